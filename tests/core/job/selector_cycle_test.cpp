#include "core/job/selector_cycle.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;

ServiceFile service_with(std::vector<SelectorHold> holds, EngineState engine = EngineState::running) {
  ServiceFile service;
  service.selector_cycle = Sourced<std::vector<SelectorHold>>{std::move(holds), Origin::invented, {}, 0};
  service.engine = Sourced<EngineState>{engine, Origin::invented, {}, 0};
  return service;
}

class SelectorCycleTest : public ::testing::Test {
 protected:
  SelectorCycleTest() { use(service_with({{"R", 3s}, {"D", 3s}})); }
  void use(const std::optional<ServiceFile>& service) {
    cycle_.emplace(service);
    holds_.clear();
  }
  /// The position is read twice a second, the first time now.
  void in(const std::string& position, Duration lasts) {
    for (Duration gone{}; gone <= lasts; gone += 500ms) {
      cycle_->on_position(now_, position, hole_, running_since_, events_);
      hole_ = false;
      now_ += 500ms;
    }
    for (const Event& event : events_) holds_.push_back(text_of(std::get<HoldEvent>(event)));
    events_.clear();
  }
  static std::string text_of(const HoldEvent& e) {
    std::string text = e.position + (e.enough ? " enough" : " too short");
    if (e.held_s)
      text += " " + std::to_string(static_cast<int>(*e.held_s * 10)) + "/" +
              std::to_string(static_cast<int>(e.wanted_s * 10));
    if (e.quality == Quality::by_hand) text += " by hand";
    return text + (e.cycle_complete ? " complete" : "");
  }
  std::string missing() const { return cycle_->missing().value_or("none"); }
  void by_hand(const std::string& position, std::optional<Duration> held = std::nullopt) {
    cycle_->on_held_by_hand(now_, position, held, events_);
    in("P", 0s);
  }

  std::optional<SelectorCycle> cycle_;
  std::vector<Event> events_;
  std::vector<std::string> holds_;
  TimePoint now_ = at_micros(1700000000000000);
  std::optional<TimePoint> running_since_ = now_;
  bool hole_ = true;
};

// --- seen on the bus ---

TEST_F(SelectorCycleTest, AHoldIsSaidWhenItIsLongEnoughAndTheLastOneCompletesTheCycle) {
  in("P", 5s);
  in("R", 4s);
  in("N", 4s);
  EXPECT_EQ(missing(), "D");
  in("D", 4s);
  in("P", 1s);
  EXPECT_THAT(holds_, ElementsAre("R enough 30/30", "D enough 30/30 complete"));
  EXPECT_EQ(missing(), "none");
  EXPECT_FALSE(cycle_->by_hand());
}

TEST_F(SelectorCycleTest, AHoldThatEndsTooSoonIsSaidAndMayBeRepeated) {
  in("R", 2500ms);
  in("N", 0s);
  in("R", 2s);
  in("D", 0s);
  EXPECT_THAT(holds_, ElementsAre("R too short 25/30", "R too short 20/30")) << "they do not add up";
  EXPECT_EQ(missing(), "R");
  in("R", 3s);
  EXPECT_EQ(holds_.back(), "R enough 30/30");
}

TEST_F(SelectorCycleTest, PassingThroughAPositionThatWasHeldSaysNothing) {
  in("R", 4s);
  in("D", 4s);
  holds_.clear();
  in("N", 500ms);
  in("R", 500ms);
  in("P", 500ms);
  EXPECT_THAT(holds_, ElementsAre());
}

TEST_F(SelectorCycleTest, AHoldCountsOnlyWhileTheEngineRuns) {
  running_since_.reset();
  in("R", 10s);
  in("P", 500ms);
  EXPECT_THAT(holds_, ElementsAre()) << "a selector that is moved with the engine off is no cycle";
  in("R", 1s);
  running_since_ = now_;
  in("R", 2500ms);
  in("P", 0s);
  EXPECT_THAT(holds_, ElementsAre("R too short 25/30")) << "from engine start on";
}

TEST_F(SelectorCycleTest, AHoldDoesNotLastAcrossAHole) {
  in("R", 2s);
  now_ += 10s;
  hole_ = true;
  in("R", 2s);
  in("P", 0s);
  EXPECT_THAT(holds_, ElementsAre("R too short 20/30", "R too short 20/30"));
}

TEST_F(SelectorCycleTest, WhenTheEngineStopsTheCycleBeginsAnew) {
  in("R", 4s);
  cycle_->on_engine_stopped();
  EXPECT_EQ(missing(), "R");
}

TEST_F(SelectorCycleTest, WhenTheEngineWasNotSeenTheCycleBeginsAnew) {
  in("R", 4s);
  in("D", 2s);
  cycle_->on_engine_unseen();
  running_since_ = now_;
  in("D", 1s);
  EXPECT_EQ(missing(), "R");
  in("P", 0s);
  EXPECT_EQ(holds_.back(), "D too short 10/30");
}

TEST_F(SelectorCycleTest, ForACheckWithTheEngineOffTheHoldsStandUntilItStartsAgain) {
  use(service_with({{"R", 3s}}, EngineState::stopped));
  in("R", 4s);
  cycle_->on_engine_stopped();
  EXPECT_EQ(missing(), "none");
  cycle_->on_engine_started();
  EXPECT_EQ(missing(), "R");
}

TEST_F(SelectorCycleTest, APositionThatIsNamedTwiceIsHeldOnceAsLongAsTheLongerOfBoth) {
  use(service_with({{"P", 2s}, {"R", 2s}, {"P", 5s}}));
  in("P", 3s);
  in("R", 2s);
  EXPECT_THAT(holds_, ElementsAre("P too short 30/50", "R enough 20/20"));
  in("P", 5s);
  EXPECT_EQ(holds_.back(), "P enough 50/50 complete");
}

TEST_F(SelectorCycleTest, WithoutACycleInTheServiceFileNothingIsMissingAndNothingSaid) {
  for (const std::optional<ServiceFile>& service :
       {std::optional<ServiceFile>{}, std::optional(ServiceFile{})}) {
    use(service);
    in("R", 10s);
    by_hand("R");
    cycle_->on_done_by_hand(now_, events_);
    EXPECT_THAT(holds_, ElementsAre());
    EXPECT_EQ(missing(), "none");
  }
}

// --- by hand ---

TEST_F(SelectorCycleTest, APersonTicksHoldsWithOrWithoutATime) {
  by_hand("R");
  by_hand("D", 2s);
  EXPECT_EQ(missing(), "D");
  by_hand("D", 3s);
  EXPECT_THAT(holds_, ElementsAre("R enough by hand", "D too short 20/30 by hand",
                                  "D enough 30/30 by hand complete"));
  EXPECT_TRUE(cycle_->by_hand());
}

TEST_F(SelectorCycleTest, APositionThatTheServiceFileDoesNotNameIsNoPartOfTheCycle) {
  by_hand("N");
  EXPECT_THAT(holds_, ElementsAre());
  EXPECT_FALSE(cycle_->by_hand());
}

TEST_F(SelectorCycleTest, TheWholeCycleDoneByHandTicksWhatIsMissing) {
  in("R", 4s);
  holds_.clear();
  cycle_->on_done_by_hand(now_, events_);
  in("P", 0s);
  EXPECT_THAT(holds_, ElementsAre("D enough by hand complete"));
  cycle_->on_done_by_hand(now_, events_);
  in("P", 0s);
  EXPECT_EQ(holds_.size(), 1U) << "nothing was missing any more";
}

TEST_F(SelectorCycleTest, WhatIsSeenNeedsNobodysWord) {
  by_hand("R");
  EXPECT_TRUE(cycle_->by_hand());
  holds_.clear();
  in("R", 4s);
  EXPECT_FALSE(cycle_->by_hand());
  EXPECT_THAT(holds_, ElementsAre()) << "it counted already";
}

TEST_F(SelectorCycleTest, TicksEndWithTheEngineButNotInAHole) {
  cycle_->on_done_by_hand(now_, events_);
  cycle_->on_engine_unseen();
  EXPECT_EQ(missing(), "none");
  cycle_->on_engine_stopped();
  EXPECT_EQ(missing(), "R");
}

TEST_F(SelectorCycleTest, WhatWasSeenIsNotByHandBecauseAPersonSaysItToo) {
  in("R", 4s);
  by_hand("R");
  in("D", 4s);
  EXPECT_EQ(missing(), "none");
  EXPECT_FALSE(cycle_->by_hand());
  use(service_with({{"R", 3s}, {"D", 3s}}));
  by_hand("R");
  in("D", 4s);
  EXPECT_TRUE(cycle_->by_hand());
}

}  // namespace
}  // namespace sumplog
