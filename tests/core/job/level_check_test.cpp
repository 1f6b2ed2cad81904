#include "core/job/level_check.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Texts = std::vector<std::string>;

constexpr TimePoint kStart = at_micros(1700000000000000);
constexpr Duration kFresh = 3s;

ServiceFile full_service() {
  ServiceFile s;
  s.settling_time = Sourced<Duration>{60s, Origin::invented, {}, 0};
  s.engine = Sourced<EngineState>{EngineState::running, Origin::invented, {}, 0};
  s.idle = Sourced<IdleBand>{{600, 900}, Origin::invented, {}, 0};
  s.vehicle = Sourced<VehicleState>{VehicleState::standing, Origin::invented, {}, 0};
  s.selector = Sourced<std::vector<std::string>>{{"P", "N"}, Origin::invented, {}, 0};
  s.selector_cycle = Sourced<std::vector<SelectorHold>>{{{"R", 3s}, {"D", 3s}}, Origin::invented, {}, 0};
  return s;
}

class LevelCheckTest : public ::testing::Test {
 protected:
  LevelCheckTest() { use(full_service()); }
  void use(std::optional<ServiceFile> service) { check_.emplace(std::move(service), kFresh); }

  void reading(std::string signal, std::optional<double> value, std::string label = "",
               std::string ecu = "7E8") {
    ReadingEvent r;
    r.at = now_;
    r.bus = BusName("can0");
    r.ecu = std::move(ecu);
    r.signal = std::move(signal);
    r.value = value;
    r.label = std::move(label);
    if (!value) r.quality = Quality::suspect;
    check_->on_reading(r, events_);
  }
  void window(WindowState state, const std::string& why = "", bool fast = false, bool exceeded = false) {
    check_->on_window(state, why, fast, false, exceeded);
  }
  void wait(Duration d) { now_ += d; }

  /// Everything is read once.
  void all(double rpm = 700, double speed = 0, std::string selector = "P") {
    reading("engine_speed", rpm);
    reading("vehicle_speed", speed);
    reading("selector_position", 0, std::move(selector));
  }
  /// Everything is read twice a second for as long as `d`, beginning now.
  void keep(Duration d, double rpm = 700, double speed = 0, const std::string& selector = "P") {
    for (Duration gone{}; gone < d; gone += 500ms) {
      all(rpm, speed, selector);
      wait(500ms);
    }
    all(rpm, speed, selector);
  }
  /// The whole preparation of the service file, so that the check may start.
  void prepare() {
    window(WindowState::inside);
    keep(4s, 700, 0, "R");
    keep(4s, 700, 0, "D");
    keep(60s);
  }
  CheckState state() const { return check_->judge(now_).state; }
  Texts why() const { return check_->judge(now_).why; }
  void expect(CheckState state, const Texts& reasons) const {
    const CheckEvent event = check_->judge(now_);
    EXPECT_EQ(event.state, state) << text_of(event.state);
    EXPECT_EQ(event.why, reasons);
  }

  std::optional<LevelCheck> check_;
  std::vector<Event> events_;
  TimePoint now_ = kStart;
};

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
}  // namespace sumplog
