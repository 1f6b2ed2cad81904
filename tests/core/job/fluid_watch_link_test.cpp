// What the watch over the fluid says when the bus goes away and comes back, and when the program was stopped.
#include <chrono>

#include "core/job/fluid_watch_fixture.h"

namespace sumplog::testing {
namespace {

// --- a second thermometer that nobody reads any more, beside a unit that has given no value ---

TEST_F(FluidWatchTest, AUnitThatGivesNoValueSaysWhyNotTheOldReadingByHand) {
  reading(std::nullopt, "not available");
  entry("reading_by_hand", R"({"value_c":39})");
  EXPECT_EQ(state(), WindowState::inside);
  wait(61s);
  EXPECT_EQ(last<WindowEvent>().to, WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "not available");
}

TEST_F(FluidWatchTest, ABusThatIsAwaySaysSoNotTheOldReadingByHand) {
  link(LinkState::down);
  entry("reading_by_hand", R"({"value_c":39})");
  EXPECT_EQ(state(), WindowState::inside);
  wait(61s);
  EXPECT_EQ(last<WindowEvent>().to, WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "interface is down");
}

// --- link ---

TEST_F(FluidWatchTest, ABusThatIsAwayIsUnknownAtOnce) {
  const std::pair<LinkState, const char*> kCases[] = {{LinkState::down, "interface is down"},
                                                      {LinkState::gone, "interface has vanished"},
                                                      {LinkState::bus_off, "adapter is bus-off"}};
  for (const auto& [link_state, why] : kCases) {
    use(TemperatureWindow{{35}, {45}});
    readings(40, 3);
    link(link_state);
    EXPECT_EQ(state(), WindowState::unknown);
    EXPECT_EQ(last<WindowEvent>().why, why);
    EXPECT_EQ(last<WindowEvent>().at, now_);
  }
}

TEST_F(FluidWatchTest, ABusThatComesBackDoesNotBringAnOldReadingBack) {
  readings(40, 3);
  link(LinkState::down);
  wait(200ms);
  link(LinkState::up);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<ThermalEvent>().why, "no reading since the bus came back");
  wait(200ms);
  reading(40);
  EXPECT_EQ(state(), WindowState::inside);
}

TEST_F(FluidWatchTest, AShortInterruptionIsAGapToo) {
  readings(40, 3);
  const TimePoint answered = now_;
  wait(100ms);
  link(LinkState::down);
  wait(100ms);
  link(LinkState::up);
  wait(300ms);
  reading(40);
  ASSERT_EQ(all<GapEvent>().size(), 1U);
  EXPECT_EQ(last<GapEvent>().from, answered);
  EXPECT_EQ(last<GapEvent>().to, answered + 500ms);
  EXPECT_EQ(last<GapEvent>().why, "interface is down");
}

TEST_F(FluidWatchTest, AnAdapterThatIsErrorPassiveStillReads) {
  readings(40, 3);
  link(LinkState::error_passive);
  EXPECT_EQ(state(), WindowState::inside);
  link(LinkState::down);
  link(LinkState::error_passive);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "interface is down");
}

TEST_F(FluidWatchTest, AnotherBusMayGoAway) {
  readings(40, 3);
  link(LinkState::down, BusName("can1"));
  EXPECT_EQ(state(), WindowState::inside);
}

TEST_F(FluidWatchTest, WhatWasReadBeforeTheProgramStoppedIsNotLive) {
  readings(40, 3);
  watch_->on_resume(now_);
  watch_->update(now_, events_);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "program was stopped");
  link(LinkState::up);
  EXPECT_EQ(state(), WindowState::unknown);
  wait(500ms);
  reading(40);
  EXPECT_EQ(last<GapEvent>().why, "program was stopped");
}

TEST_F(FluidWatchTest, TheEndClosesAnOpenGapAndNoOther) {
  readings(40, 3);
  watch_->on_end(now_ + 3s, events_);
  EXPECT_TRUE(all<GapEvent>().empty());
  const TimePoint answered = now_;
  wait(7s);
  watch_->on_end(now_, events_);
  ASSERT_EQ(all<GapEvent>().size(), 1U);
  EXPECT_EQ(last<GapEvent>().from, answered);
  EXPECT_EQ(last<GapEvent>().to, answered + 7s);
}

TEST_F(FluidWatchTest, TheEndOfABusThatIsAwayClosesItsGap) {
  readings(40, 3);
  link(LinkState::gone);
  watch_->on_end(now_ + 1s, events_);
  EXPECT_EQ(last<GapEvent>().why, "interface has vanished");
}

}  // namespace
}  // namespace sumplog::testing
