// What a person does for a level check: the selector cycle, fluid that is added, conditions that no bus shows.
#include "core/job/level_check_fixture.h"

namespace sumplog::testing {
namespace {

// --- selector cycle ---

TEST_F(LevelCheckTest, APositionCountsWhenItWasHeldLongEnoughInOneStretch) {
  window(WindowState::inside);
  keep(60s);
  keep(2500ms, 700, 0, "R");
  all();
  keep(2500ms, 700, 0, "R");
  all();
  EXPECT_EQ(why(), Texts{"selector cycle is not complete: R"}) << "twice 2.5 s are not 3 s";
  keep(3s, 700, 0, "R");
  all();
  EXPECT_EQ(why(), Texts{"selector cycle is not complete: D"});
}

TEST_F(LevelCheckTest, APositionHeldBeforeTheEngineRanDoesNotCount) {
  window(WindowState::inside);
  keep(10s, 0, 0, "R");
  keep(2s, 700, 0, "R");
  all();
  EXPECT_EQ(why().front(), "selector cycle is not complete: R");
}

TEST_F(LevelCheckTest, APositionIsNotHeldAcrossAHole) {
  window(WindowState::inside);
  keep(60s);
  all(700, 0, "R");
  wait(10s);
  all(700, 0, "R");
  all();
  EXPECT_EQ(why().front(), "selector cycle is not complete: R") << "it was not seen in between";
}

TEST_F(LevelCheckTest, APositionIsNotHeldWhileTheEngineIsNotSeen) {
  const auto held_without_engine = [&] {
    for (int i = 0; i < 30; ++i) {
      reading("selector_position", 1, "R");
      wait(500ms);
    }
  };
  window(WindowState::inside);
  keep(60s);
  held_without_engine();
  ASSERT_EQ(events_.size(), 1U);
  EXPECT_EQ(std::get<HoldEvent>(events_[0]).held_s, 3) << "three seconds of it were seen";
  use(full_service());
  events_.clear();
  keep(60s);
  wait(4s);
  held_without_engine();
  all();
  EXPECT_TRUE(events_.empty());
  EXPECT_EQ(why()[1], "selector cycle is not complete: R");
}

TEST_F(LevelCheckTest, APersonMaySayThatTheCycleWasDoneUntilTheEngineStops) {
  window(WindowState::inside);
  keep(60s);
  check_->on_selector_cycle_done(now_, now_, events_);
  expect(CheckState::may_start, {});
  reading("engine_speed", 0);
  wait(500ms);
  keep(60s);
  expect(CheckState::not_yet, {"selector cycle is not complete: R"});
}

// --- what a person does ---

TEST_F(LevelCheckTest, FluidThatWasAddedMustMix) {
  prepare();
  expect(CheckState::may_start, {});
  check_->on_fluid_added(now_);
  expect(CheckState::not_yet, {"fluid is not mixed yet: settling time after fluid was added"});
  const TimePoint mixed = now_ + 60s;
  keep(59s);
  expect(CheckState::not_yet, {"fluid is not mixed yet: settling time after fluid was added"});
  keep(2s);
  EXPECT_GE(now_, mixed);
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, AnOlderAdditionThatIsEnteredLateDoesNotShortenTheMixing) {
  prepare();
  check_->on_fluid_added(now_);
  check_->on_fluid_added(now_ - 90s);
  expect(CheckState::not_yet, {"fluid is not mixed yet: settling time after fluid was added"});
}

TEST_F(LevelCheckTest, WithoutAStartLimitAWindowThatWasExceededAsksForNothing) {
  prepare();
  window(WindowState::inside, "", false, true);
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, AWindowThatWasExceededIsNoPlaceToStartUntilTheFluidWasCold) {
  ServiceFile service = full_service();
  service.start_limit = Sourced<Celsius>{Celsius{30}, Origin::invented, {}, 0};
  use(service);
  prepare();
  window(WindowState::inside, "", false, true);
  expect(CheckState::not_yet, {"window was exceeded: let it cool below 30 °C first"});
  window(WindowState::below, "", false, true);
  expect(CheckState::not_yet,
         {"fluid is below the window", "window was exceeded: let it cool below 30 °C first"});
  window(WindowState::above, "", false, true);
  expect(CheckState::stop, {"fluid is above the window"});
  window(WindowState::inside);
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, ConditionsThatNoBusShowsAreTickedOneByOne) {
  ServiceFile service = full_service();
  service.by_hand =
      Sourced<std::vector<std::string>>{{"car level", "air conditioning off"}, Origin::invented, {}, 0};
  use(service);
  prepare();
  expect(CheckState::not_yet, {"not ticked: car level", "not ticked: air conditioning off"});
  check_->on_ticked("air conditioning off", true);
  check_->on_ticked("something else", true);
  expect(CheckState::not_yet, {"not ticked: car level"});
  check_->on_ticked("car level", true);
  expect(CheckState::may_start, {});
  check_->on_ticked("car level", false);
  expect(CheckState::not_yet, {"not ticked: car level"});
}

TEST_F(LevelCheckTest, TellsWhetherTheEngineRunsOnlyWhileThatIsKnown) {
  use(full_service());
  EXPECT_EQ(check_->engine_runs(now_), std::nullopt);
  reading("engine_speed", 700);
  EXPECT_EQ(check_->engine_runs(now_), true);
  reading("engine_speed", 0);
  EXPECT_EQ(check_->engine_runs(now_), false);
  wait(4s);
  EXPECT_EQ(check_->engine_runs(now_), std::nullopt);
}

}  // namespace
}  // namespace sumplog::testing
