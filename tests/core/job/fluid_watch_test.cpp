#include <chrono>
#include <cmath>

#include "core/job/fluid_watch_fixture.h"

namespace sumplog::testing {
namespace {

using ::testing::HasSubstr;

// --- normal ---

TEST_F(FluidWatchTest, AFreshValidReadingInsideIsInside) {
  reading(40);
  ASSERT_EQ(all<WindowEvent>().size(), 1U);
  const auto w = last<WindowEvent>();
  EXPECT_EQ(w.from, WindowState::unknown);
  EXPECT_EQ(w.to, WindowState::inside);
  EXPECT_NEAR(w.temp_c.value(), 40, 0.01);
  EXPECT_EQ(w.why, "");
  EXPECT_EQ(last<ThermalEvent>().window, WindowState::inside);
  EXPECT_EQ(last<ThermalEvent>().estimate_inside, true);
}

TEST_F(FluidWatchTest, BelowAndAboveAreSaid) {
  reading(30);
  EXPECT_EQ(state(), WindowState::below);
  use(TemperatureWindow{{35}, {45}});
  reading(50);
  EXPECT_EQ(state(), WindowState::above);
}

TEST_F(FluidWatchTest, WhileReadingsArriveAThermalLineComesAtLeastOnceASecond) {
  for (const Duration every : {10ms, 100ms, 250ms, 399ms, 500ms, 900ms}) {
    use(TemperatureWindow{{35}, {45}});
    events_.clear();
    const TimePoint begun = now_;
    for (Duration gone{}; gone < 60s; gone += every) {
      wait(every);
      reading(40);
    }
    TimePoint before = begun;
    for (const ThermalEvent& t : all<ThermalEvent>()) {
      ASSERT_LE(t.at - before, 1s) << every.count();
      before = t.at;
    }
    EXPECT_LE(all<ThermalEvent>().size(), 60s / 400ms + 2) << "nor for every frame of a fast broadcast";
  }
}

// --- freshness ---

TEST_F(FluidWatchTest, InsideEndsOneMicrosecondAfterTheAgeLimit) {
  readings(40, 10);
  const TimePoint answered = now_;
  EXPECT_EQ(watch_->deadline(), answered + 3s + 1us);
  wait(3s);
  EXPECT_EQ(state(), WindowState::inside);
  wait(1us);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "no answer");
  EXPECT_FALSE(last<WindowEvent>().temp_c);
}

TEST_F(FluidWatchTest, WithoutABelievedReadingThereIsNoTemperatureToShow) {
  readings(40, 60);
  wait(4s);
  const auto t = last<ThermalEvent>();
  EXPECT_EQ(t.window, WindowState::unknown);
  EXPECT_EQ(t.why, "no answer");
  EXPECT_FALSE(t.temp_c || t.rate_c_per_min || t.rate_low || t.rate_high || t.enter_in_s || t.stay_s ||
               t.announce_in_s);
  EXPECT_TRUE(t.flags.empty());
  EXPECT_EQ(t.estimate_inside, true) << "the estimate's own view is held";
}

TEST_F(FluidWatchTest, TheFirstReadingAfterASilenceEndsTheGap) {
  readings(40, 2);
  const TimePoint answered = now_;
  wait(10s);
  reading(41);
  ASSERT_EQ(all<GapEvent>().size(), 1U);
  const auto gap = last<GapEvent>();
  EXPECT_EQ(gap.at, answered + 10s);
  EXPECT_EQ(gap.from, answered);
  EXPECT_EQ(gap.to, answered + 10s);
  EXPECT_EQ(gap.bus, kBus);
  EXPECT_EQ(gap.why, "no answer");
  EXPECT_EQ(state(), WindowState::inside);
}

TEST_F(FluidWatchTest, AnAnswerThatIsThreeSecondsLateIsNoGap) {
  readings(40, 2);
  wait(3s);
  reading(40);
  EXPECT_TRUE(all<GapEvent>().empty());
}

TEST_F(FluidWatchTest, AfterMoreThanAMinuteTheCourseBeforeSaysLess) {
  const auto width = [&] { return *last<ThermalEvent>().rate_high - *last<ThermalEvent>().rate_low; };
  for (int i = 0; i < 240; ++i) {
    wait(500ms);
    reading(20 + i / 24);  // NOLINT(bugprone-integer-division): whole degrees
  }
  const double before = width();
  wait(61s);
  reading(34);
  EXPECT_GT(width(), 1.5 * before);
}

TEST_F(FluidWatchTest, AfterTenMinutesTheThermometerBeginsAnew) {
  readings(40, 100);
  EXPECT_TRUE(last<ThermalEvent>().rate_c_per_min);
  wait(601s);
  reading(60);
  EXPECT_FALSE(last<ThermalEvent>().rate_c_per_min);
  EXPECT_EQ(state(), WindowState::above);
}

// --- jumps ---

TEST_F(FluidWatchTest, AReadingThatJumpedIsNotBelieved) {
  use(TemperatureWindow{{70}, {90}});
  readings(38, 20);
  for (int i = 0; i < 15; ++i) {
    wait(500ms);
    reading(80);
    EXPECT_EQ(state(), WindowState::unknown);
    EXPECT_EQ(last<ThermalEvent>().why, "reading jumped");
  }
}

TEST_F(FluidWatchTest, AConstantThatStaysIsNotBelievedEither) {
  use(TemperatureWindow{{70}, {90}});
  readings(38, 20);
  for (int i = 0; i < 1200; ++i) {
    wait(500ms);
    reading(80);
    ASSERT_EQ(state(), WindowState::unknown) << "after " << i;
  }
  EXPECT_EQ(last<ThermalEvent>().why, "readings jumped: perhaps a substitute value");
  EXPECT_EQ(last<ThermalEvent>().flags, std::vector<std::string>{"substitute"});
  EXPECT_FALSE(last<ThermalEvent>().temp_c);
}

TEST_F(FluidWatchTest, ARawZeroIsNoTemperature) {
  readings(40, 5);
  reading(-40);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "reading is no temperature of a fluid");
}

// --- no value ---

TEST_F(FluidWatchTest, AnAnswerWithoutAValueIsUnknownAtOnceAndSaysWhy) {
  readings(40, 10);
  wait(500ms);
  reading(std::nullopt, "not available (FF)");
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(last<WindowEvent>().why, "not available (FF)");
  EXPECT_FALSE(last<ThermalEvent>().temp_c);
  wait(500ms);
  reading(40);
  EXPECT_EQ(state(), WindowState::inside);
  EXPECT_TRUE(all<GapEvent>().empty());
}

TEST_F(FluidWatchTest, ALongStretchWithoutAValueIsAGapWithItsReason) {
  readings(40, 10);
  for (int i = 0; i < 20; ++i) {
    wait(500ms);
    reading(std::nullopt, "error (FE)");
  }
  reading(41);
  EXPECT_EQ(last<GapEvent>().why, "error (FE)");
}

// --- the number that is shown must itself lie inside ---

TEST_F(FluidWatchTest, AnEstimateInsideIsNotBelievedWhenTheReadingItselfLiesOutside) {
  // In steps of 1 °C 34 stands for up to 34.5; a window from 34.1 could hold it.
  use(TemperatureWindow{{34.1}, {45}});
  for (int i = 0; i <= 236; ++i) {  // up to 34.33
    reading(std::round(24.5 + i / 24.0));
    wait(500ms);
  }
  for (const ThermalEvent& t : all<ThermalEvent>()) EXPECT_TRUE(t.window != WindowState::inside);
  EXPECT_EQ(last<ThermalEvent>().estimate_inside, true) << "or this test shows nothing";
  EXPECT_EQ(state(), WindowState::below);
}

// --- nothing mixes ---

TEST_F(FluidWatchTest, TheUnitThatGaveTheFirstValueStaysTheSource) {
  readings(40, 3);
  reading(80, "", "7EA");
  reading(20, "", "7E9", BusName("can1"));
  reading(std::nullopt, "not available (FF)", "7EA");
  EXPECT_EQ(state(), WindowState::inside);
  EXPECT_EQ(all<WindowEvent>().size(), 1U);
  for (int i = 0; i < 8; ++i) {
    wait(500ms);
    reading(40, "", "7EA");
  }
  EXPECT_EQ(state(), WindowState::unknown) << "another unit does not keep it alive";
}

TEST_F(FluidWatchTest, OtherSignalsAndReadingsByHandAreNotTheFluid) {
  ReadingEvent r;
  r.at = now_;
  r.signal = "coolant_temperature";
  r.value = 40;
  watch_->on_reading(r, events_);
  r.signal = "fluid_temperature";
  r.quality = Quality::by_hand;
  watch_->on_reading(r, events_);
  watch_->update(now_, events_);
  EXPECT_TRUE(all<WindowEvent>().empty());
  EXPECT_TRUE(all<ThermalEvent>().empty());
}

// --- without a window ---

TEST_F(FluidWatchTest, WithoutAWindowTemperatureAndRateAreStillShown) {
  use(std::nullopt);
  readings(40, 70);
  const auto t = last<ThermalEvent>();
  EXPECT_EQ(t.window, WindowState::unknown);
  EXPECT_EQ(t.why, "no window is set");
  EXPECT_NEAR(t.temp_c.value(), 40, 0.3);
  EXPECT_TRUE(t.rate_c_per_min);
  EXPECT_FALSE(t.estimate_inside);
  EXPECT_TRUE(all<WindowEvent>().empty());
}

TEST_F(FluidWatchTest, WithoutAWindowADoubtIsToldAllTheSame) {
  use(std::nullopt);
  const auto coolant = [&](double value) {
    ReadingEvent one;
    one.bus = BusName("can0");
    one.ecu = "7E8";
    one.signal = "coolant_temperature";
    one.value = value;
    read(std::move(one));
  };
  for (int i = 0; i < 140; ++i) {
    coolant(60 + i / 10.0);
    readings(80, 1);
  }
  EXPECT_THAT(last<ThermalEvent>().why, HasSubstr("stays at 80 °C while the coolant moves"));
  EXPECT_FALSE(last<ThermalEvent>().temp_c);
  EXPECT_FALSE(last<ThermalEvent>().rate_c_per_min);
}

TEST_F(FluidWatchTest, WithoutAWindowReadingsThatJumpedAreNotShownAsBelieved) {
  use(std::nullopt);
  readings(40, 60);
  readings(80, 30);
  EXPECT_EQ(last<ThermalEvent>().why, "readings jumped: perhaps a substitute value");
  EXPECT_FALSE(last<ThermalEvent>().temp_c);
}

TEST_F(FluidWatchTest, WithoutAWindowAStaleTemperatureIsNotShownEither) {
  use(std::nullopt);
  readings(40, 60);
  events_.clear();
  wait(10s);
  reading(std::nullopt, "not available (FF)");
  link(LinkState::down);
  for (const ThermalEvent& t : all<ThermalEvent>()) EXPECT_FALSE(t.temp_c);
}

// --- the level check hears only what is believed ---

TEST_F(FluidWatchTest, WithoutAWindowNothingIsShownOfABusThatIsAway) {
  use(std::nullopt);
  readings(40, 60);
  ASSERT_TRUE(last<ThermalEvent>().temp_c);
  link(LinkState::down);
  wait(1s);
  entry("reading_by_hand", R"({"value_c":39})");
  EXPECT_EQ(last<ThermalEvent>().at, now_);
  EXPECT_FALSE(last<ThermalEvent>().temp_c);
}

TEST_F(FluidWatchTest, AStaleForecastGivesTheLevelCheckNoReason) {
  JobConfiguration c;
  c.window = TemperatureWindow{{35}, {45}};
  c.service = ServiceFile{};
  c.minimum_stay = 200s;
  watch_.emplace(std::move(c));
  for (int i = 0; i < 120; ++i) {
    wait(500ms);
    reading(20 + i / 20);  // NOLINT(bugprone-integer-division): whole degrees
  }
  const std::string fast = "fluid warms too fast: the window will be too short";
  EXPECT_EQ(last<CheckEvent>().why, (std::vector<std::string>{"fluid is below the window", fast}));
  wait(4s);
  EXPECT_EQ(last<CheckEvent>().why, std::vector<std::string>{"no answer"});
}

TEST_F(FluidWatchTest, CodesThatAreReadWhileNothingElseComesHaveTheirEnd) {
  JobConfiguration c;
  c.window = TemperatureWindow{{35}, {45}};
  c.service = ServiceFile{};
  c.service->codes_read = Sourced<Duration>{15min, Origin::invented, {}, 0};
  watch_.emplace(std::move(c));
  reading(40);
  wait(5s);
  ASSERT_FALSE(watch_->deadline()) << "the reading is old, nothing else is awaited";
  CodesEvent codes;
  codes.at = now_;
  codes.bus = kBus;
  codes.ecu = "7E9";
  codes.service = "03";
  codes.codes.emplace();
  watch_->on_codes(codes);
  watch_->update(now_, events_);
  EXPECT_EQ(watch_->deadline(), now_ + 15min + Duration{1});
}

TEST_F(FluidWatchTest, AnEntryMayConfirmTheSelectorCycle) {
  JobConfiguration c;
  c.window = TemperatureWindow{{35}, {45}};
  c.service = ServiceFile{};
  c.service->selector_cycle = Sourced<std::vector<SelectorHold>>{{{"D", 3s}}, Origin::invented, {}, 0};
  watch_.emplace(std::move(c));
  reading(40);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::not_yet);
  watch_->on_entry(Entry{now_, "e1", "plug_out", "{}"}, events_);
  watch_->update(now_, events_);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::not_yet);
  watch_->on_entry(Entry{now_, "e2", "selector_cycle_done", "{}"}, events_);
  watch_->update(now_, events_);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::may_start);
}

TEST_F(FluidWatchTest, AnotherStepIsAnotherThermometer) {
  for (int i = 0; i < 240; ++i) {
    wait(500ms);
    reading(20 + i / 12);  // NOLINT(bugprone-integer-division): whole degrees
  }
  ASSERT_TRUE(last<ThermalEvent>().rate_c_per_min);
  wait(500ms);
  ReadingEvent r;
  r.at = now_;
  r.bus = kBus;
  r.ecu = "7E9";
  r.signal = "fluid_temperature";
  r.value = 40;
  r.step = 0.1;
  r.rounding = Rounding::round;
  watch_->on_reading(r, events_);
  watch_->update(now_, events_);
  EXPECT_FALSE(last<ThermalEvent>().rate_c_per_min) << "nothing is known of a course in such steps";
  for (int i = 0; i < 240; ++i, wait(500ms)) {
    r.at = now_;
    r.value = 40 + i / 120.0;
    watch_->on_reading(r, events_);
    watch_->update(now_, events_);
  }
  ASSERT_TRUE(last<ThermalEvent>().rate_c_per_min);
  r.at = now_;
  r.rounding = Rounding::floor;
  watch_->on_reading(r, events_);
  watch_->update(now_, events_);
  EXPECT_FALSE(last<ThermalEvent>().rate_c_per_min) << "nor of one that is rounded in another way";
}

TEST_F(FluidWatchTest, BeforeAnyUnitGaveAValueEveryBusMayBeTheOne) {
  link(LinkState::down, BusName("can1"));
  reading(std::nullopt, "not available");
  EXPECT_EQ(state(), WindowState::unknown);
  reading(40);
  link(LinkState::down, BusName("can1"));
  EXPECT_EQ(state(), WindowState::inside) << "can0 is the one";
}

}  // namespace
}  // namespace sumplog::testing
