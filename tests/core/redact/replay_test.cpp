#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/journal/capture_run.h"
#include "core/journal/flow.h"
#include "redact_run.h"

namespace sumplog {
namespace {

using testing::redact;

struct Journal {
  std::vector<std::string> lines;
  std::vector<std::string> vins;
};

Journal journal_of(const std::vector<Item>& items) {
  Flow flow;
  Output out;
  Journal journal;
  for (const Item& item : items) flow.on_item(item, out);
  for (Event& event : out.events) {
    // What may differ: the VIN itself, and the identity number in a NAME.
    if (auto* vehicle = std::get_if<VehicleEvent>(&event); vehicle != nullptr && !vehicle->claim.empty())
      vehicle->claim = "a NAME";
    if (auto* vehicle = std::get_if<VehicleEvent>(&event); vehicle != nullptr && !vehicle->vin.empty()) {
      journal.vins.push_back(vehicle->vin);
      vehicle->vin = "a VIN";
    }
    journal.lines.push_back(journal_line(event));
  }
  return journal;
}

class RedactedCapture : public ::testing::TestWithParam<fs::path> {};

TEST_P(RedactedCapture, ReplaysToTheSameJournal) {
  std::vector<Item> frames = items_of(file_text(GetParam() / "capture.log"));
  std::vector<Item> items = opening_of(GetParam(), time_of(frames.front()));
  items.insert(items.end(), frames.begin(), frames.end());
  const auto copy = redact(items);
  ASSERT_EQ(copy.fault, "");

  const auto before = testing::frames_of(items);
  const auto after = testing::frames_of(copy.items);
  ASSERT_EQ(before.size(), after.size());
  for (std::size_t i = 0; i < before.size(); ++i) {
    ASSERT_EQ(before[i].at, after[i].at);
    ASSERT_EQ(before[i].id, after[i].id);
    ASSERT_EQ(before[i].length, after[i].length);
  }
  const Journal original = journal_of(items);
  const Journal redacted = journal_of(copy.items);
  EXPECT_EQ(original.lines, redacted.lines);
  ASSERT_EQ(original.vins.size(), redacted.vins.size());
  for (std::size_t i = 0; i < original.vins.size(); ++i) {
    EXPECT_NE(original.vins[i], redacted.vins[i]);
    EXPECT_LE(testing::longest_piece_in_a_frame(copy.items, original.vins[i]), 3U)
        << "0TEST… and INVENTED share some";
  }
}

INSTANTIATE_TEST_SUITE_P(Captures, RedactedCapture, ::testing::ValuesIn(capture_folders()), capture_name);

}  // namespace
}  // namespace sumplog
