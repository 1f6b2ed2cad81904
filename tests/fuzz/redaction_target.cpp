#include "core/item/item_text.h"
#include "core/redact/redactor.h"
#include "fuzz/flow_check.h"
#include "fuzz/job_script.h"
#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

constexpr std::size_t kMostRecords = 150;

/// A copy that names nobody: as many frames as before, each as long and at its time.
void take(Bytes bytes) {
  const auto items = job_script(bytes, kMostRecords);
  Redactor redactor("0f1e2d3c4b5a69788796a5b4c3d2e1f0");
  for (const Item& item : items) redactor.learn(item);
  require(redactor.learned().has_value(), "a job cannot be learned");
  for (const Item& item : items) redactor.search(item);
  redactor.searched();
  std::string copy(kJobFileMagic);
  copy += '\n';
  for (const Item& item : items) {
    auto kept = redactor.redacted(item);
    const auto* frame = std::get_if<CanFrame>(&item);
    if (frame != nullptr) {
      require(kept.has_value(), "a frame is left out");
      const auto& other = std::get<CanFrame>(*kept);
      require(other.at == frame->at && other.id == frame->id && other.length == frame->length,
              "a frame has changed");
    }
    if (kept) copy += item_text(*kept);
  }
  (void)journal_of(read_capture(CaptureForm::job_file, copy, 0).items, script_decoders());
}
const Registered kTarget("redaction", take);

}  // namespace
}  // namespace sumplog::fuzz
