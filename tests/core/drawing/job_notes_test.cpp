#include "core/drawing/job_notes.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/item/entry_names.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kAt = at_micros(1700000000000000);

EntryEvent entry(std::string_view name, std::string fields) {
  return {kAt, "e", std::string(name), std::move(fields), std::nullopt};
}

TEST(JobNotes, WhatAPersonStoodForIsListedInWords) {
  JobNotes notes;
  notes.on_event(entry(kConfirmed, R"({"what":"window","by":"T. Example","origin":"service manual"})"));
  notes.on_event(entry(kConfirmed, R"({"what":"decoder","by":"T. Example"})"));
  notes.on_event(entry(kConditionTicked, R"({"condition":"level in both axes","by":"T. Example"})"));
  notes.on_event(entry(kConditionTicked, R"({"condition":"level in both axes","holds":false})"));
  notes.on_event(entry(kSelectorCycleDone, "{}"));
  notes.on_event(entry(kNote, R"({"text":"nothing to stand for"})"));
  std::vector<std::string> ticks;
  for (const JobNotes::Tick& tick : notes.ticks().items) ticks.push_back(tick.what + " by " + tick.by);
  EXPECT_EQ(ticks, (std::vector<std::string>{
                       "window confirmed, origin: service manual by T. Example",
                       "decoder confirmed by T. Example", "level in both axes: holds by T. Example",
                       "level in both axes: holds no longer by ", "selector cycle done by "}));
}

TEST(JobNotes, AReadingByHandStandsWhereItHappened) {
  JobNotes notes;
  EntryEvent reading = entry(kReadingByHand, R"({"value_c":38.5,"place":"pan"})");
  reading.happened = kAt - 40s;
  notes.on_event(reading);
  notes.on_event(entry(kReadingByHand, R"({"place":"pan"})"));
  ASSERT_EQ(notes.hand_readings().items.size(), 1U);
  EXPECT_EQ(notes.hand_readings().items[0].at, kAt - 40s);
  EXPECT_EQ(notes.hand_readings().items[0].value_c, 38.5);
  EXPECT_EQ(notes.hand_readings().items[0].place, "pan");
}

TEST(JobNotes, ACheckIsListedWhenItChangesAlone) {
  JobNotes notes;
  CheckEvent check;
  check.at = kAt;
  for (int i = 0; i < 3; ++i) notes.on_event(check);
  check.why = {"engine speed is not known"};
  notes.on_event(check);
  EXPECT_EQ(notes.checks().items.size(), 2U);
}

TEST(JobNotes, HoldsGapsAndLossesOfEachKindAreKept) {
  JobNotes notes;
  notes.on_event(HoldEvent{kAt, "R", 3.5, 3, true, Quality::measured, false});
  notes.on_event(GapEvent{kAt + 9s, BusName("can0"), kAt, kAt + 9s, "the adapter was gone"});
  notes.on_event(LossEvent{kAt, BusName("can0"), "7E9", "one", 1});
  notes.on_event(LossEvent{kAt, BusName("can0"), "7E9", "another", 1});
  notes.on_event(LossEvent{kAt, BusName("can0"), "7E8", "one", 1});
  notes.on_event(LossEvent{kAt + 1s, BusName("can0"), "7E9", "one", 4});
  EXPECT_EQ(notes.holds().items.size(), 1U);
  EXPECT_EQ(notes.gaps().items.size(), 1U);
  ASSERT_EQ(notes.losses().size(), 3U);
  EXPECT_EQ(notes.losses()[0].frames, 5U);
  EXPECT_EQ(notes.losses()[0].times, 2U);
}

TEST(JobNotes, TheOldestAreLeftOutAndCounted) {
  JobNotes notes;
  for (std::size_t i = 0; i < JobNotes::kMost + 3; ++i)
    notes.on_event(ClockEvent{kAt + std::chrono::seconds(i), 1s});
  EXPECT_EQ(notes.clock_steps().items.size(), JobNotes::kMost);
  EXPECT_EQ(notes.clock_steps().left_out, 3U);
  EXPECT_EQ(notes.clock_steps().items.front().at, kAt + 3s);
}

TEST(JobNotes, LossesAreCountedByKindAndWhatIsTooMuchTogether) {
  JobNotes notes;
  for (int i = 0; i < 2; ++i) notes.on_event(LossEvent{kAt + std::chrono::seconds(i), {}, "7E9", "late", 3});
  ASSERT_EQ(notes.losses().size(), 1U);
  EXPECT_EQ(notes.losses()[0].times, 2U);
  EXPECT_EQ(notes.losses()[0].frames, 6U);
  EXPECT_EQ(notes.losses()[0].last, kAt + 1s);
  for (std::size_t i = 0; i < JobNotes::kMost + 5; ++i)
    notes.on_event(LossEvent{kAt, {}, std::to_string(i), "late", 1});
  ASSERT_EQ(notes.losses().size(), JobNotes::kMost + 1);
  EXPECT_EQ(notes.losses().back().why, "of other kinds");
  EXPECT_EQ(notes.losses().back().times, 6U);
}

}  // namespace
}  // namespace sumplog
