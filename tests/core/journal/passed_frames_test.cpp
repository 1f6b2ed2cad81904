#include "core/journal/capture_run.h"

namespace sumplog {
namespace {

// Frames that mean nothing to a job are passed by, and time goes on all the same: whatever stands between the frames of a
// capture, the journal is that of the capture, byte for byte.

std::string journal_of(const fs::path& folder, const std::vector<Item>& items) {
  std::string text;
  for (const Event& event : run_items(opening_of(folder, time_of(items.front())), items).events)
    text += journal_line(event) + '\n';
  return text;
}

class PassedFrames : public testing::TestWithParam<fs::path> {};

TEST_P(PassedFrames, LeaveTheJournalAsItIs) {
  const auto items = items_of(file_text(GetParam() / "capture.log"));
  std::vector<Item> filled;
  TimePoint last = time_of(items.front());
  for (const Item& item : items) {
    const TimePoint at = std::max(last, time_of(item));
    // Identifiers that no decoder of ours names: at the moment of the item before, between the two, and at the item's own. The
    // first item stays the first: it is what the job begins with.
    for (const auto& [when, id] :
         {std::pair{last, standard_id(0x001)}, std::pair{last + (at - last) / 2, extended_id(0x0ABCDEF0)},
          std::pair{at, standard_id(0x6FF)}})
      if (!filled.empty())
        filled.emplace_back(data_frame(when, BusName("can0"), id, std::array<std::uint8_t, 3>{1, 2, 3}));
    filled.push_back(item);
    last = at;
  }
  ASSERT_EQ(filled.size(), 4 * items.size() - 3);
  EXPECT_TRUE(journal_of(GetParam(), items) == journal_of(GetParam(), filled));
}

INSTANTIATE_TEST_SUITE_P(All, PassedFrames, testing::ValuesIn(capture_folders()), capture_name);

}  // namespace
}  // namespace sumplog
