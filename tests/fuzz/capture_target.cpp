#include "fuzz/flow_check.h"
#include "fuzz/reading_check.h"

namespace sumplog::fuzz {
namespace {

// Any file that replay takes: what it is, what is in it, and what follows from that.
void take(Bytes bytes) {
  constexpr std::size_t kBeginning = 4096;  // as replay looks at a file
  const auto form = recognise(text_of(bytes).substr(0, kBeginning));
  if (!form) {
    require(!form.error().what.empty(), "a file is refused without a word");
    return;
  }
  const Reading reading = check_reader(*form, bytes);
  const auto journal = journal_of(reading.items, {});
  require_same_journal(journal, journal_of(reading.items, {}), "a second time the journal differs");
}
const Registered kTarget("capture", take);

}  // namespace
}  // namespace sumplog::fuzz
