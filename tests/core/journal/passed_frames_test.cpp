#include "core/journal/capture_run.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

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

/// Frames between the items of a capture that mean nothing to a job, now and then one from two seconds ahead: behind it time stands
/// still for a while.
std::vector<Item> with_more_frames(const std::vector<Item>& items) {
  std::vector<Item> filled;
  for (const Item& item : items) {
    filled.push_back(item);
    const bool ahead = filled.size() % 61 == 0;
    const TimePoint at = time_of(item) + (ahead ? 2s : 10us);
    for (const CanId id : {standard_id(0x001), extended_id(0x0ABCDEF0), standard_id(0x6FF)})
      filled.emplace_back(data_frame(at, BusName("can0"), id, std::array<std::uint8_t, 3>{1, 2, 3}));
  }
  return filled;
}

/// The journal when whoever feeds the flow leaves out what it may.
std::string journal_without_passed(const fs::path& folder, const std::vector<Item>& items,
                                   std::size_t& left_out) {
  Flow flow;
  Output out;
  for (const Item& item : opening_of(folder, time_of(items.front()))) flow.on_item(item, out);
  TimePoint last{};
  TimePoint latest = TimePoint::min();
  for (const Item& item : items) {
    last = std::max(last, time_of(item));
    const auto* const frame = std::get_if<CanFrame>(&item);
    if (frame != nullptr && flow.pass_by().covers(*frame)) {
      latest = std::max(latest, frame->at);
      ++left_out;
      continue;
    }
    if (latest != TimePoint::min()) flow.on_passed(latest);
    latest = TimePoint::min();
    flow.on_item(item, out);
  }
  flow.on_item(End{last}, out);
  std::string text;
  for (const Event& event : out.events) text += journal_line(event) + '\n';
  return text;
}

TEST_P(PassedFrames, NeedNotComeIn) {
  const auto items = with_more_frames(items_of(file_text(GetParam() / "capture.log")));
  std::size_t left_out = 0;
  EXPECT_TRUE(journal_without_passed(GetParam(), items, left_out) == journal_of(GetParam(), items));
  EXPECT_GE(left_out, items.size() / 3);
}

TEST(PassBy, CoversNothingBeforeTheJobIsConfiguredAndNoErrorFrame) {
  CanFrame frame = data_frame(at_micros(1), BusName("can0"), standard_id(1), {});
  Flow flow;
  Output out;
  EXPECT_FALSE(flow.pass_by().covers(frame));
  flow.on_item(frame, out);
  EXPECT_TRUE(flow.pass_by().covers(frame));
  frame.kind = FrameKind::error;
  EXPECT_FALSE(flow.pass_by().covers(frame));
}

TEST(PassBy, EndsWhereADeadlineIs) {
  const std::array<std::uint8_t, 3> question{2, 1, 0x0C};
  CanFrame frame = data_frame(at_micros(1), BusName("can0"), standard_id(1), {});
  Flow flow;
  Output out;
  flow.on_item(frame, out);
  flow.on_item(data_frame(at_micros(2), BusName("can0"), standard_id(0x7DF), question), out);
  ASSERT_TRUE(flow.deadline());
  frame.at = *flow.deadline() - 1us;
  EXPECT_TRUE(flow.pass_by().covers(frame));
  frame.at = *flow.deadline();
  EXPECT_FALSE(flow.pass_by().covers(frame));
}

INSTANTIATE_TEST_SUITE_P(All, PassedFrames, testing::ValuesIn(capture_folders()), capture_name);

}  // namespace
}  // namespace sumplog
