#include "core/item/item_text.h"
#include "fuzz/flow_check.h"
#include "fuzz/job_script.h"
#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

constexpr std::size_t kMostRecords = 300;

/// A recording is read in pieces, and with the deadlines that a live job fires: the journal is the same.
void take(Bytes bytes) {
  std::string file(kJobFileMagic);
  file += '\n';
  for (const Item& item : job_script(bytes, kMostRecords)) file += item_text(item);
  const auto recorded = read_capture(CaptureForm::job_file, file, 0);
  const auto pieces = read_capture(CaptureForm::job_file, file, 1 + static_cast<std::uint32_t>(bytes.size()));
  require(recorded.texts == pieces.texts, "cut otherwise the job file gives other items");

  const auto& decoders = script_decoders();
  require_same_journal(journal_of(recorded.items, decoders), live_journal_of(pieces.items, decoders),
                       "the live journal and the replayed one differ");
}
const Registered kTarget("whole_way", take);

}  // namespace
}  // namespace sumplog::fuzz
