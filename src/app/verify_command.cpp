#include <iostream>

#include "app/commands.h"
#include "core/item/json_line.h"
#include "io/verify.h"

namespace sumplog {
ExitStatus run_verify(const CommonOptions& common, const VerifyOptions& options) {
  auto found = verify(options.job, options.fingerprint);
  if (!found) return report(found.error(), ExitStatus::wrong);
  const bool expected_missing = !options.fingerprint.empty() && found->expected_line == 0;
  if (common.json) {
    JsonLine line;
    line.text("state", text_of(found->state))
        .integer("bytes", static_cast<std::int64_t>(found->bytes))
        .integer("lines", static_cast<std::int64_t>(found->lines))
        .integer("unsealed_bytes", static_cast<std::int64_t>(found->unsealed_bytes));
    if (found->changed)
      line.raw("changed_lines", "[" + std::to_string(found->changed->first) + "," +
                                    std::to_string(found->changed->last) + "]");
    if (!found->fingerprint.empty()) line.text("fingerprint", found->fingerprint);
    if (!options.fingerprint.empty()) line.flag("fingerprint_found", !expected_missing);
    std::cout << line.take() << '\n';
  } else {
    std::cout << options.job << ": " << found->text() << '\n';
    if (!found->fingerprint.empty()) std::cout << "fingerprint " << found->fingerprint << '\n';
    if (expected_missing) std::cout << "the expected fingerprint is not in this file\n";
  }
  return found->state == SealState::changed || expected_missing ? ExitStatus::failed : ExitStatus::done;
}

}  // namespace sumplog
