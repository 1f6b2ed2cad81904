#include "core/journal/event_reader.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

void take(Bytes bytes) {
  std::string_view rest = text_of(bytes);
  while (!rest.empty()) {
    const std::string_view line = rest.substr(0, rest.find('\n'));
    rest.remove_prefix(std::min(line.size() + 1, rest.size()));
    const auto event = event_of(line);
    if (!event) continue;
    // A foreign line may be written otherwise; what we write of it is final.
    const std::string written = journal_line(*event);
    const auto again = event_of(written);
    require(again.has_value(), "a journal line cannot be read back");
    require_same(written, journal_line(*again), "a journal line changes when it is read");
  }
}
const Registered kTarget("event_reader", take);

}  // namespace
}  // namespace sumplog::fuzz
