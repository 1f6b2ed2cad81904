#include "core/job/level_check_fixture.h"

namespace sumplog::testing {
namespace {

// --- normal ---

TEST_F(LevelCheckTest, MayStartWhenEveryConditionHolds) {
  prepare();
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, WithoutAServiceFileNothingIsKnown) {
  use(std::nullopt);
  prepare();
  expect(CheckState::unknown, {"no service file: the conditions of the level check are not known"});
  EXPECT_FALSE(check_->deadline(now_));
}

TEST_F(LevelCheckTest, AServiceFileWithoutConditionsAsksForTheWindowAlone) {
  use(ServiceFile{});
  expect(CheckState::unknown, {"no live reading"});
  window(WindowState::inside);
  expect(CheckState::may_start, {});
}

// --- each condition broken alone gives its reason and no other ---

TEST_F(LevelCheckTest, BelowTheWindowItIsNotYet) {
  prepare();
  window(WindowState::below);
  expect(CheckState::not_yet, {"fluid is below the window"});
}

TEST_F(LevelCheckTest, AboveTheWindowItIsStop) {
  prepare();
  window(WindowState::above);
  expect(CheckState::stop, {"fluid is above the window"});
}

TEST_F(LevelCheckTest, AnUnknownWindowSaysWhy) {
  prepare();
  window(WindowState::unknown, "interface is down");
  expect(CheckState::unknown, {"interface is down"});
}

TEST_F(LevelCheckTest, AWindowThatWillBeTooShortIsNotYet) {
  prepare();
  window(WindowState::inside, "", true);
  expect(CheckState::not_yet, {"fluid warms too fast: the window will be too short"});
}

TEST_F(LevelCheckTest, AStoppedEngineBreaksAlsoWhatOnlyARunningOneCanKeep) {
  prepare();
  reading("engine_speed", 0);
  expect(CheckState::not_yet, {"engine is not running", "selector cycle is not complete: R"});
}

TEST_F(LevelCheckTest, AnEngineThatOnlyCranksDoesNotRun) {
  // Common practice, no source: a starter motor turns the engine at 150 to 300 1/min.
  prepare();
  reading("engine_speed", 300);
  EXPECT_EQ(why().front(), "engine is not running");
}

TEST_F(LevelCheckTest, OffIdleIsNotYet) {
  for (const double rpm : {599.75, 900.25, 2000.0}) {
    use(full_service());
    prepare();
    reading("engine_speed", rpm);
    expect(CheckState::not_yet, {"engine is not at idle"});
  }
}

TEST_F(LevelCheckTest, TheEndsOfTheIdleBandBelongToIt) {
  for (const double rpm : {600.0, 900.0}) {
    use(full_service());
    prepare();
    reading("engine_speed", rpm);
    expect(CheckState::may_start, {});
  }
}

TEST_F(LevelCheckTest, AMovingVehicleIsNotYet) {
  prepare();
  reading("vehicle_speed", 1);
  expect(CheckState::not_yet, {"vehicle is moving"});
}

TEST_F(LevelCheckTest, AWrongSelectorPositionIsNotYet) {
  prepare();
  reading("selector_position", 3, "D");
  expect(CheckState::not_yet, {"selector is not in P or N"});
  reading("selector_position", 9, "");
  expect(CheckState::not_yet, {"selector is not in P or N"});
  reading("selector_position", 2, "N");
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, FluidThatIsNotMixedYetIsNotYet) {
  window(WindowState::inside);
  keep(4s, 700, 0, "R");
  keep(4s, 700, 0, "D");
  keep(50s);
  expect(CheckState::not_yet, {"fluid is not mixed yet: settling time after engine start"});
}

TEST_F(LevelCheckTest, AnIncompleteSelectorCycleNamesTheFirstPositionThatIsMissing) {
  window(WindowState::inside);
  keep(60s);
  expect(CheckState::not_yet, {"selector cycle is not complete: R"});
  keep(4s, 700, 0, "R");
  all();
  expect(CheckState::not_yet, {"selector cycle is not complete: D"});
}

// --- each value unknown alone: never taken for fulfilled ---

TEST_F(LevelCheckTest, AnUnknownValueMakesTheStateUnknown) {
  const std::pair<const char*, const char*> kCases[] = {
      {"engine_speed", "engine speed is not known"},
      {"vehicle_speed", "vehicle speed is not known"},
      {"selector_position", "selector position is not known"}};
  for (const auto& [signal, reason] : kCases) {
    use(full_service());
    prepare();
    reading(signal, std::nullopt);
    expect(CheckState::unknown, {reason});
  }
}

TEST_F(LevelCheckTest, AValueGetsOldOneMicrosecondAfterItsAgeLimit) {
  prepare();
  wait(kFresh);
  expect(CheckState::may_start, {});
  wait(1us);
  expect(CheckState::unknown,
         {"engine speed is not known", "vehicle speed is not known", "selector position is not known"});
}

TEST_F(LevelCheckTest, NothingSeenBeforeAGapIsLive) {
  prepare();
  check_->on_gap();
  EXPECT_EQ(state(), CheckState::unknown);
  EXPECT_EQ(why().size(), 3U);
}

TEST_F(LevelCheckTest, BeforeAnythingIsReadEverythingIsUnknown) {
  expect(CheckState::unknown, {"no live reading", "engine speed is not known", "vehicle speed is not known",
                               "selector cycle is not complete: R", "selector position is not known"});
}

TEST_F(LevelCheckTest, AboveTheWindowOutranksWhatIsNotKnown) {
  window(WindowState::above);
  EXPECT_EQ(state(), CheckState::stop);
  EXPECT_EQ(why().front(), "fluid is above the window");
}

// --- order: as a person would mend them ---

TEST_F(LevelCheckTest, TheReasonsComeInTheOrderOfMending) {
  window(WindowState::below, "", true);
  all(1200, 5, "D");
  expect(CheckState::not_yet,
         {"engine is not at idle", "vehicle is moving", "selector cycle is not complete: R",
          "selector is not in P or N", "fluid is not mixed yet: settling time after engine start",
          "fluid is below the window", "fluid warms too fast: the window will be too short"});
}

// --- engine off wanted ---

TEST_F(LevelCheckTest, AServiceThatWantsTheEngineOffSaysSo) {
  ServiceFile s;
  s.engine = Sourced<EngineState>{EngineState::stopped, Origin::invented, {}, 0};
  use(s);
  window(WindowState::inside);
  expect(CheckState::unknown, {"engine speed is not known"});
  reading("engine_speed", 700);
  expect(CheckState::not_yet, {"engine is running; it must be off"});
  reading("engine_speed", 0);
  expect(CheckState::may_start, {});
}

// --- settling ---

TEST_F(LevelCheckTest, TheSettlingTimeCountsFromEngineStartToTheMicrosecond) {
  ServiceFile s;
  s.settling_time = full_service().settling_time;
  use(s);
  window(WindowState::inside);
  reading("engine_speed", 0);
  wait(10s);
  const TimePoint started = now_;
  keep(59s);
  EXPECT_EQ(check_->deadline(now_), started + 60s);
  now_ = started + 60s - 1us;
  expect(CheckState::not_yet, {"fluid is not mixed yet: settling time after engine start"});
  wait(1us);
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, TheSettlingTimeBeginsAnewWithTheEngine) {
  prepare();
  reading("engine_speed", 0);
  wait(500ms);
  all();
  EXPECT_EQ(why(), (Texts{"selector cycle is not complete: R",
                          "fluid is not mixed yet: settling time after engine start"}));
}

TEST_F(LevelCheckTest, AfterAHoleInWhichTheEngineWasNotSeenSettlingAndSelectorCycleBeginAnew) {
  // It may have been stopped and started again meanwhile.
  const Texts both{"selector cycle is not complete: R",
                   "fluid is not mixed yet: settling time after engine start"};
  prepare();
  wait(20s);
  all();
  expect(CheckState::not_yet, both);
  prepare();
  expect(CheckState::may_start, {});
  check_->on_gap();
  all();
  expect(CheckState::not_yet, both);
}

TEST_F(LevelCheckTest, ATickedSelectorCycleStandsAcrossAHole) {
  prepare();
  check_->on_selector_cycle_done(now_, now_, events_);
  wait(20s);
  keep(60s);
  EXPECT_EQ(why(), Texts{"selector cycle is not complete: R"}) << "it was seen, nobody had to say it";
  check_->on_selector_cycle_done(now_, now_, events_);
  wait(20s);
  keep(60s);
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, OneAnswerWithoutAValueDoesNotRestartTheSettlingTime) {
  prepare();
  reading("engine_speed", std::nullopt);
  wait(500ms);
  all();
  expect(CheckState::may_start, {});
}

// --- nothing mixes ---

TEST_F(LevelCheckTest, TheUnitThatGaveTheFirstValueStaysTheSource) {
  prepare();
  reading("engine_speed", 0, "", "7E9");
  reading("engine_speed", std::nullopt, "", "7E9");
  reading("vehicle_speed", 50, "", "7E9");
  reading("selector_position", 3, "D", "7EA");
  expect(CheckState::may_start, {});
}

TEST_F(LevelCheckTest, AnotherUnitDoesNotKeepAValueAlive) {
  prepare();
  for (int i = 0; i < 10; ++i) {
    wait(500ms);
    reading("engine_speed", 700, "", "7E9");
    reading("vehicle_speed", 0);
    reading("selector_position", 0, "P");
  }
  expect(CheckState::unknown, {"engine speed is not known"});
}

// --- deadlines ---

TEST_F(LevelCheckTest, TheNextDeadlineIsTheOldestReadingsEnd) {
  use(full_service());
  reading("engine_speed", 700);
  wait(100ms);
  reading("vehicle_speed", 0);
  EXPECT_EQ(check_->deadline(now_), kStart + kFresh + 1us);
  EXPECT_EQ(check_->deadline(kStart + kFresh + 1us), kStart + 100ms + kFresh + 1us);
  EXPECT_EQ(check_->deadline(kStart + 4s), kStart + 60s) << "settling";
  EXPECT_FALSE(check_->deadline(kStart + 60s));
  use(ServiceFile{});
  check_->on_fluid_added(now_);
  EXPECT_FALSE(check_->deadline(now_)) << "without a settling time nothing is waited for";
}

TEST_F(LevelCheckTest, BetweenDeadlinesTheStateNeverChangesByItself) {
  prepare();
  for (int round = 0; round < 10; ++round) {
    const auto due = check_->deadline(now_);
    if (!due) break;
    const CheckEvent before = check_->judge(now_);
    const CheckEvent just_before = check_->judge(*due - 1us);
    EXPECT_EQ(before.state, just_before.state);
    EXPECT_EQ(before.why, just_before.why);
    now_ = *due;
  }
  EXPECT_FALSE(check_->deadline(now_));
}

TEST_F(LevelCheckTest, AServiceFileThatOnlyNamesTheIdleOrTheSettlingAsksForTheEngineToo) {
  ServiceFile idle;
  idle.idle = Sourced<IdleBand>{{600, 900}, Origin::invented, {}, 0};
  ServiceFile settling;
  settling.settling_time = Sourced<Duration>{60s, Origin::invented, {}, 0};
  for (const ServiceFile& one : {idle, settling}) {
    use(one);
    window(WindowState::inside);
    expect(CheckState::unknown, {"engine speed is not known"});
    reading("engine_speed", 0);
    expect(CheckState::not_yet, {"engine is not running"});
  }
}

}  // namespace
}  // namespace sumplog::testing
