// Entries that come late, the temperature at which the plug was put in, the hot engine and the cool-down plan, as the watch
// over the fluid joins them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "core/job/watched_fluid.h"

namespace sumplog::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

template <class T>
Sourced<T> invented(T value) {
  return {std::move(value), Origin::invented, {}, 0};
}

class LateEntryTest : public WatchedFluid {
 protected:
  LateEntryTest() {
    service_.window = invented(TemperatureWindow{{35}, {45}});
    service_.start_limit = invented(Celsius{30});
    service_.coolant_limit = invented(Celsius{50});
    service_.engine = invented(EngineState::running);
    service_.fill_l = invented(10.0);
    service_.settling_time = invented(Duration{60s});
    use();
  }
  void use() {
    JobConfiguration c;
    c.service = service_;
    c.window = service_.window->value;
    c.minimum_stay = 120s;
    watch_.emplace(std::move(c));
    events_.clear();
  }
  /// Readings twice a second: fluid from a value on, with its rate; engine, coolant.
  void drive(Duration d, double from_c, double c_per_min, double rpm = 700, double coolant_c = 40) {
    for (Duration gone{}; gone < d; gone += 500ms) {
      reading("engine_speed", rpm);
      reading("coolant_temperature", coolant_c);
      reading("fluid_temperature", std::round(from_c + c_per_min / 60 * in_seconds(gone)));
      wait(500ms);
    }
  }
  CheckEvent check() const { return all<CheckEvent>().back(); }

  ServiceFile service_;
};

// --- late entries ---

TEST_F(LateEntryTest, APlugThatWasPutInInTimeIsJudgedByTheTimeThatThePersonSays) {
  drive(20s, 40, 0);
  entry("plug_out");
  drive(100s, 40, 6);  // 45 °C is passed after 55 s
  events_.clear();
  entry("plug_in", R"({"ago_s":80})");
  EXPECT_THAT(all<LevelSumsEvent>(), IsEmpty()) << "80 s ago the fluid was inside";

  use();
  drive(20s, 40, 0);
  entry("plug_out");
  drive(100s, 40, 6);
  entry("plug_in");
  ASSERT_EQ(all<LevelSumsEvent>().size(), 1U) << "now it is above";
}

TEST_F(LateEntryTest, WhatIsEnteredLateChangesNothingThatHappenedAfterIt) {
  drive(20s, 40, 0);
  entry("plug_out");
  wait(2s);
  reading("fluid_temperature", 40);
  entry("plug_in", R"({"ago_s":10})");  // before it was taken out
  wait(4s);
  EXPECT_THAT(cues(), Contains("no_reading")) << "the plug is still out";
  use();
  drive(20s, 40, 0);
  entry("plug_out");
  drive(20s, 40, 0);
  entry("plug_in", R"({"ago_s":10})");
  wait(4s);
  EXPECT_THAT(cues(), Not(Contains("no_reading")));
}

TEST_F(LateEntryTest, APlugThatIsSaidToBeOutForAWhileHoldsItsAlarmsAtOnce) {
  drive(20s, 40, 0, 700);
  drive(10s, 40, 0, 0);
  EXPECT_THAT(cues(), Not(Contains("engine_stopped")));
  entry("plug_out", R"({"ago_s":40})");
  EXPECT_THAT(cues(), Contains("engine_stopped"));
}

TEST_F(LateEntryTest, FluidThatWasAddedAMinuteAgoHasMixedSinceThen) {
  const std::string mixing = "fluid is not mixed yet: settling time after fluid was added";
  drive(100s, 38, 0);
  EXPECT_EQ(check().state, CheckState::may_start);
  entry("fluid_added", R"({"ago_s":50})");
  EXPECT_THAT(check().why, Contains(mixing));
  drive(9s, 38, 0);
  EXPECT_THAT(check().why, Contains(mixing));
  drive(2s, 38, 0);
  EXPECT_EQ(check().state, CheckState::may_start);
}

TEST_F(LateEntryTest, AReadingByHandIsAsOldAsThePersonSays) {
  entry("reading_by_hand", R"({"value_c":40,"ago_s":50})");
  EXPECT_EQ(all<WindowEvent>().back().to, WindowState::inside);
  wait(11s);
  EXPECT_EQ(all<WindowEvent>().back().to, WindowState::unknown);
}

TEST_F(LateEntryTest, AnOlderReadingByHandDoesNotOverruleANewerOne) {
  entry("reading_by_hand", R"({"value_c":40})");
  wait(5s);
  entry("reading_by_hand", R"({"value_c":30,"ago_s":20})");
  EXPECT_EQ(all<WindowEvent>().back().to, WindowState::inside);
  EXPECT_EQ(all<ReadingEvent>().size(), 2U) << "it stands in the journal all the same";
}

TEST_F(LateEntryTest, ASelectorCycleFromBeforeTheEngineStartedDoesNotCount) {
  service_.selector_cycle = invented(std::vector<SelectorHold>{{"D", 3s}});
  use();
  drive(70s, 38, 0);
  entry("selector_cycle_done", R"({"ago_s":100})");
  EXPECT_THAT(check().why, Contains("selector cycle is not complete: D"));
  entry("position_held", R"({"position":"D","s":4,"ago_s":100})");
  EXPECT_THAT(check().why, Contains("selector cycle is not complete: D"));
  entry("selector_cycle_done", R"({"ago_s":30})");
  EXPECT_THAT(check().why, Not(Contains("selector cycle is not complete: D")));
}

// --- level ---

TEST_F(LateEntryTest, APlugThatComesInAboveTheWindowSaysWhatThatMeansForTheLevel) {
  drive(20s, 44, 0);
  entry("plug_out");
  drive(60s, 44, 6);
  entry("plug_in");
  const auto sums = all<LevelSumsEvent>();
  ASSERT_EQ(sums.size(), 1U);
  EXPECT_NEAR(sums[0].plug_in_c, 50, 0.6);
  EXPECT_EQ(sums[0].edge_c, 45);
  EXPECT_EQ(sums[0].fill_l, 10);
  EXPECT_NEAR(sums[0].short_ml[1], 7.7 * (sums[0].plug_in_c - 45), 1);  // API MPMS 11.1, 850 kg/m³
  EXPECT_THAT(sums[0].assumes, ::testing::ElementsAre("density 850 ± 15 kg/m³ at 15 °C, nobody said"));
}

TEST_F(LateEntryTest, TheDensityOfTheServiceFileIsUsed) {
  service_.density_kg_per_m3 = invented(820.0);
  use();
  drive(20s, 50, 0);
  entry("plug_out");
  entry("plug_in");
  ASSERT_EQ(all<LevelSumsEvent>().size(), 1U);
  EXPECT_THAT(all<LevelSumsEvent>()[0].assumes, ::testing::ElementsAre("density 820 kg/m³ at 15 °C"));
}

TEST_F(LateEntryTest, WithoutAFillQuantityOrAReadingNothingIsSaidOfTheLevel) {
  entry("plug_out");
  entry("plug_in");
  service_.fill_l.reset();
  use();
  drive(20s, 50, 0);
  entry("plug_out");
  entry("plug_in");
  EXPECT_THAT(all<LevelSumsEvent>(), IsEmpty());
}

// --- hot engine ---

TEST_F(LateEntryTest, AHotEngineIsSaidBeforeThePlugComesOut) {
  // Common practice, no source: coolant 88 °C beside fluid of 32 °C; 35…45 °C then last about a minute.
  drive(3s, 32, 0, 700, 88);
  ASSERT_THAT(cues(), Contains("hot_engine"));
  EXPECT_THAT(all<CueEvent>().front().text,
              HasSubstr("coolant 88 °C, fluid 32 °C: the window will last about 1 min"));
  drive(60s, 32, 6, 700, 88);
  const auto names = cues();
  EXPECT_EQ(std::count(names.begin(), names.end(), "hot_engine"), 1);
  const auto place = [&](const char* name) {
    return std::find(names.begin(), names.end(), name) - names.begin();
  };
  EXPECT_LT(place("hot_engine"), place("window_starts"));
}

TEST_F(LateEntryTest, AnEngineThatWarmsSlowlyIsNoHotEngine) {
  drive(400s, 20, 1.5, 700, 45);
  EXPECT_THAT(cues(), Not(Contains("hot_engine")));
}

TEST_F(LateEntryTest, AfterFiveMinutesBesideAHotEngineTheMeasuredRateDecides) {
  drive(320s, 20, 0.5, 700, 50);
  drive(60s, 22.7, 0.5, 700, 85);  // no warmer: the fluid does not care
  EXPECT_THAT(cues(), Not(Contains("hot_engine")));
}

// --- advice ---

TEST_F(LateEntryTest, AboveTheWindowItSaysWhatToDo) {
  drive(5s, 50, 0);
  EXPECT_EQ(check().state, CheckState::stop);
  EXPECT_EQ(check().advice, "plug in, then stop the engine; let it cool below 30 °C");
  service_.advice_above = invented<std::string>("Plug in, stop, wait for an hour.");
  use();
  drive(5s, 50, 0);
  EXPECT_EQ(check().advice, "Plug in, stop, wait for an hour.");
}

TEST_F(LateEntryTest, AboveTheWindowTheEngineIsStoppedOnlyWhereItMustRun) {
  const auto advice = [&] {
    use();
    reading("fluid_temperature", 50);
    return check().advice;
  };
  service_ = ServiceFile{};
  service_.window = invented(TemperatureWindow{{35}, {45}});
  EXPECT_EQ(advice(), "plug in; let it cool below the window");
  service_.engine = invented(EngineState::stopped);
  service_.start_limit = invented(Celsius{30});
  EXPECT_EQ(advice(), "plug in; let it cool below 30 °C");
}

TEST_F(LateEntryTest, BelowTheWindowTheServiceFileAdvises) {
  drive(5s, 25, 0);
  EXPECT_EQ(check().advice, "");
  service_.advice_below = invented<std::string>("Idle in P.");
  use();
  drive(5s, 25, 0);
  EXPECT_EQ(check().advice, "Idle in P.");
  drive(60s, 40, 0);
  EXPECT_EQ(check().advice, "") << "inside there is nothing to advise";
}

// --- cool-down plan ---

TEST_F(LateEntryTest, AfterTheEngineStoppedThePlanComesFromItsReadings) {
  drive(10s, 60, 0, 700, 60);
  for (int i = 0; i < 4 * 60; ++i) {  // an hour, every quarter of a minute: still air, 130 minutes
    reading("engine_speed", 0);
    reading("coolant_temperature", std::round(20 + 40 * std::exp(-i / 4.0 / 130)));
    reading("fluid_temperature", std::round(20 + 40 * std::exp(-i / 4.0 / 130)));
    wait(15s);
  }
  const auto plans = all<ForecastEvent>();
  ASSERT_FALSE(plans.empty());
  EXPECT_EQ(plans.back().target_c, 30);
  EXPECT_EQ(plans.back().coolant_target_c, 50);
  const double truth_s =
      60 * 130 * std::log(40.0 / 10) - in_seconds(plans.back().at - plans.front().at) - 600;
  EXPECT_NEAR(*plans.back().ready_in_s[1], truth_s, 0.3 * truth_s);
}

TEST_F(LateEntryTest, APersonAsksForThePlanAndReadsByHand) {
  entry("cool_down", R"({"air":"fan","ambient_c":18})");
  for (const double value : {80.0, 71.0, 63.0}) {
    entry("reading_by_hand", R"({"value_c":)" + std::to_string(value) + "}");
    wait(8min);
  }
  const auto plans = all<ForecastEvent>();
  ASSERT_EQ(plans.size(), 1U);
  EXPECT_THAT(plans[0].assumes, Contains("a fan blows at it"));
  EXPECT_THAT(plans[0].assumes, Contains("18 °C around the car, as entered"));
  EXPECT_TRUE(plans[0].ready_in_s[0] && plans[0].ready_in_s[1] && plans[0].ready_in_s[2]);
}

// --- readings by hand are bridged ---

TEST_F(LateEntryTest, BetweenReadingsByHandTheForecastGoesOn) {
  for (int i = 0; i < 4; ++i) {
    entry("reading_by_hand", R"({"value_c":)" + std::to_string(25 + i) + "}");
    wait(40s);
  }
  events_.clear();
  entry("reading_by_hand", R"({"value_c":29})");
  wait(55s);
  const auto thermal = all<ThermalEvent>();
  ASSERT_GE(thermal.size(), 50U) << "a line a second";
  ASSERT_TRUE(thermal.front().enter_in_s && (*thermal.front().enter_in_s)[1]);
  ASSERT_TRUE(thermal.back().enter_in_s && (*thermal.back().enter_in_s)[1]);
  const double before = *(*thermal.front().enter_in_s)[1];
  const double after = *(*thermal.back().enter_in_s)[1];
  EXPECT_NEAR(before - after, in_seconds(thermal.back().at - thermal.front().at), 20);
  EXPECT_GT(*thermal.back().temp_c, *thermal.front().temp_c + 1);
  EXPECT_EQ(thermal.back().window, WindowState::below) << "only a reading says that it is inside";
}

// --- no chatter ---

TEST_F(LateEntryTest, AFineReadingThatTogglesAtTheEdgeDoesNotCallThePersonBack) {
  // Hundredths of a degree with noise of ± 0.1 °C, as it comes into the window at 1 °C a minute.
  for (int i = 0; i < 600; ++i) {
    ReadingEvent r;
    r.at = now_;
    r.bus = BusName("can0");
    r.ecu = "7E9";
    r.signal = "fluid_temperature";
    r.step = 0.01;
    r.rounding = Rounding::round;
    r.value = 33 + i / 120.0 + (i % 2 == 0 ? 0.1 : -0.1);
    watch_->on_reading(r, events_);
    watch_->update(now_, events_);
    wait(500ms);
  }
  const auto names = cues();
  EXPECT_EQ(std::count(names.begin(), names.end(), "window_starts"), 1);
  EXPECT_EQ(std::count(names.begin(), names.end(), "window_ended"), 0);
}

// --- too fast ---

TEST_F(LateEntryTest, TooFastIsDecidedByTheMinimumStayAlone) {
  const auto too_fast = [&](double rate_limit, Duration minimum) {
    service_.rate_limit = invented(CelsiusPerMinute{rate_limit});
    JobConfiguration c;
    c.service = service_;
    c.window = service_.window->value;
    c.minimum_stay = minimum;
    watch_.emplace(std::move(c));
    events_.clear();
    drive(180s, 22, 3);  // 35…45 °C last 200 s
    const auto names = cues();
    return std::count(names.begin(), names.end(), "too_fast") > 0;
  };
  EXPECT_FALSE(too_fast(1, 150s)) << "faster than the rate limit, long enough all the same";
  EXPECT_TRUE(too_fast(10, 250s)) << "slower than the rate limit, too short all the same";
}

TEST_F(LateEntryTest, AnEntryWithoutWhatItIsAboutChangesNothing) {
  service_ = ServiceFile{};
  service_.window = invented(TemperatureWindow{{35}, {45}});
  service_.selector_cycle = invented(std::vector<SelectorHold>{{"D", 3s}});
  service_.by_hand = invented(std::vector<std::string>{"car level"});
  use();
  reading("fluid_temperature", 40);
  ASSERT_EQ(check().state, CheckState::not_yet);
  events_.clear();
  entry("condition_ticked");
  entry("position_held", R"({"s":4})");
  entry("position_held", R"({"position":"D","s":-4})");  // minus four seconds are no hold
  entry("reading_by_hand");
  entry("reading_by_hand", R"({"value_c":-41})");
  entry("reading_by_hand", R"({"value_c":201})");
  EXPECT_THAT(events_, IsEmpty());
  entry("position_held", R"({"position":"D","s":4})");
  entry("condition_ticked", R"({"condition":"car level"})");
  EXPECT_EQ(check().state, CheckState::may_start);
}

TEST_F(LateEntryTest, APlanTakesTheFanAndLeavesOutAnAirThatNobodyWorksIn) {
  for (const char* const ambient_c : {"-41", "61"}) {
    use();
    entry("cool_down", std::string(R"({"air":"fan","ambient_c":)") + ambient_c + "}");
    for (const char* const value : {"80", "70", "62"}) {
      entry("reading_by_hand", std::string(R"({"value_c":)") + value + "}");
      wait(10min);
    }
    ASSERT_FALSE(all<ForecastEvent>().empty());
    EXPECT_THAT(all<ForecastEvent>().back().assumes,
                ::testing::ElementsAre("a fan blows at it", "20 °C around the car, nobody said",
                                       "coolant will be below 50 °C by then, too"));
  }
}

TEST_F(LateEntryTest, APositionThatWasHeldNeedsNoSeconds) {
  service_.selector_cycle = invented(std::vector<SelectorHold>{{"D", 3s}});
  use();
  drive(70s, 38, 0);
  ASSERT_THAT(check().why, Contains("selector cycle is not complete: D"));
  entry("position_held", R"({"position":"D"})");
  EXPECT_THAT(check().why, Not(Contains("selector cycle is not complete: D")));
}

TEST_F(LateEntryTest, APlanTakesTheAirOfAUnitOrAPersonOnlyWhereItIsSaid) {
  for (const auto& [air, said] : std::vector<std::pair<std::string, std::string>>{
           {"still", "still air"}, {"draught", "still air, nobody said"}}) {
    use();
    reading("ambient_temperature", 10);
    reading("ambient_temperature", std::nullopt);
    entry("cool_down", R"({"air":")" + air + R"("})");
    for (const char* const value : {"80", "70", "62"}) {
      entry("reading_by_hand", std::string(R"({"value_c":)") + value + "}");
      wait(10min);
    }
    ASSERT_FALSE(all<ForecastEvent>().empty());
    EXPECT_THAT(all<ForecastEvent>().back().assumes,
                ::testing::ElementsAre(said, "10 °C around the car, as the vehicle says",
                                       "coolant will be below 50 °C by then, too"));
  }
}

TEST_F(LateEntryTest, AnEngineWhoseSpeedIsNotKnownHasNotStopped) {
  drive(10s, 80, 0);
  reading("engine_speed", std::nullopt);
  for (int value = 80; value > 60; value -= 4) {
    reading("fluid_temperature", value);
    wait(3min);
  }
  EXPECT_THAT(all<ForecastEvent>(), IsEmpty());
}

}  // namespace
}  // namespace sumplog::testing
