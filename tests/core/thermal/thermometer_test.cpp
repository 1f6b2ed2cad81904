#include "core/thermal/thermometer.h"

#include <random>

#include "core/thermal/thermometer_fixture.h"

namespace sumplog {
namespace {

using testing::Fed;
using testing::line;
using testing::newton;
using testing::or_never;
using testing::shown;
using testing::thermometer_config;

// --- rate and temperature below the step ---

TEST(Thermometer, FindsARateFarBelowTheStepOfTheReadings) {
  // Common practice, no source: what a fluid does at idle lies between these.
  for (const double rate : {0.5, 1.5, 3.0, 5.0}) {
    int held = 0;
    for (int phase = 0; phase < 20; ++phase) {
      for (const double sign : {1.0, -1.0}) {
        const auto course = line(30 + phase / 20.0, sign * rate);
        const ThermalEstimate e = Fed().course(course, 240).now();
        ASSERT_TRUE(e.rate && e.rate_low && e.rate_high);
        EXPECT_NEAR(e.rate->value, sign * rate, 0.1 * rate + 0.15) << rate << " phase " << phase;
        EXPECT_NEAR(e.temperature.value, course(240), 0.3) << rate << " phase " << phase;
        if (e.rate_low->value <= sign * rate && sign * rate <= e.rate_high->value) ++held;
      }
    }
    EXPECT_GE(held, 28) << "of 40 intervals that hold 80 %, at " << rate;
  }
}

TEST(Thermometer, FollowsAWarmUpByNewtonsLaw) {
  // T = 90 − 70 exp(−t / 600 s): at these times the rate (90 − T) / 600 s is 5.5 … 3.0 °C/min.
  const std::pair<double, double> kTable[] = {{145, 5.5}, {202, 5.0}, {265, 4.5}, {336, 4.0}, {508, 3.0}};
  for (const auto& [seconds, rate] : kTable) {
    const ThermalEstimate e = Fed().course(newton(20, 90, 600), seconds).now();
    EXPECT_NEAR(e.rate->value, rate, 0.2) << seconds;
    EXPECT_NEAR(e.temperature.value, newton(20, 90, 600)(seconds), 0.15) << seconds;
  }
}

TEST(Thermometer, AConstantReadingHasNoRate) {
  const ThermalEstimate e = Fed().course(line(30, 0), 600).now();
  EXPECT_NEAR(e.rate->value, 0, 0.05);
  EXPECT_LT(e.rate_low->value, 0);
  EXPECT_GT(e.rate_high->value, 0);
  EXPECT_NEAR(e.temperature.value, 30, 0.3);
  EXPECT_FALSE(e.falling || e.substitute || e.irregular);
}

TEST(Thermometer, SaysFallingOnlyWhenTheWholeIntervalFalls) {
  EXPECT_TRUE(Fed().course(line(60, -3), 120).now().falling);
  EXPECT_FALSE(Fed().course(line(60, 3), 120).now().falling);
  EXPECT_FALSE(Fed().course(line(60, 0), 120).now().falling);
}

// --- what is too little ---

TEST(Thermometer, KnowsNothingBeforeTheFirstReading) {
  EXPECT_FALSE(Thermometer(thermometer_config()).estimate());
}

TEST(Thermometer, KnowsNothingOfAMomentBeforeTheFirstReadingEither) {
  Thermometer thermometer(thermometer_config());
  EXPECT_FALSE(thermometer.estimate_at(testing::kThermalStart));
  (void)thermometer.on_reading(testing::kThermalStart, Celsius{40});
  EXPECT_TRUE(thermometer.estimate_at(testing::kThermalStart + std::chrono::seconds{1}));
}

TEST(Thermometer, HasATemperatureButNoRateFromOneReading) {
  const ThermalEstimate e = Fed().reading(40).now();
  EXPECT_NEAR(e.temperature.value, 40, 0.05);
  EXPECT_FALSE(e.rate || e.rate_low || e.rate_high || e.enter_in_s || e.stay_s || e.announce_in_s);
  EXPECT_FALSE(e.fast);
  EXPECT_EQ(e.side, WindowState::inside);
}

TEST(Thermometer, SpeaksOfARateAfterHalfAMinuteOrOnceItIsNarrow) {
  EXPECT_FALSE(Fed().course(line(30, 1), 29).now().rate);
  EXPECT_TRUE(Fed().course(line(30, 1), 30).now().rate);
  EXPECT_TRUE(Fed(thermometer_config(1.0 / 32)).course(line(30, 3), 20).now().rate) << "a fine sensor";
}

// --- the same whatever the rhythm ---

TEST(Thermometer, TakesReadingsAtAnyRate) {
  for (const double every_s : {0.01, 0.1, 0.25, 0.4, 0.5, 1.0, 2.0}) {
    const ThermalEstimate e = Fed().course(line(30, 3), 240, every_s).now();
    EXPECT_NEAR(e.rate->value, 3, 0.3) << every_s;
    EXPECT_NEAR(e.temperature.value, 42, 0.25) << every_s;
  }
}

TEST(Thermometer, BridgesAHoleOfFiveSeconds) {
  Fed fed;
  fed.course(line(30, 3), 120).reading(shown(30 + 3.0 / 60 * 125, thermometer_config()), 5);
  fed.course(line(30, 3), 30);
  EXPECT_NEAR(fed.now().rate->value, 3, 0.3);
}

TEST(Thermometer, BeginsAnewAfterTenMinutesAndBackInTime) {
  EXPECT_FALSE(Fed().course(line(30, 3), 120).reading(60, 601).now().rate);
  EXPECT_FALSE(Fed().course(line(30, 3), 120).reading(20, -50).now().rate);
}

TEST(Thermometer, StaysSoundWhateverComes) {
  std::mt19937 random(9);
  std::normal_distribution<double> step(0.02, 0.4);
  std::uniform_int_distribution<int> chance(0, 999);
  for (const double q : {1.0, 0.5, 1.0 / 32, 5.0 / 9, 0.01, 10.0}) {
    for (const Rounding rounding : {Rounding::round, Rounding::floor, Rounding::unknown}) {
      const ThermometerConfig c = thermometer_config(q, rounding);
      Fed fed(c);
      double fluid = 20;
      for (int i = 0; i < 3000; ++i) {
        fluid += step(random);
        if (fluid > 70) fluid = 10;
        const int luck = chance(random);
        if (luck == 0) fed.announce(static_cast<Announcement>(i % 7));
        fed.reading(luck == 1 ? 190 : shown(fluid, c), luck == 2 ? 700.0 : luck < 20 ? 30.0 : 0.5);
        const ThermalEstimate e = fed.now();
        ASSERT_TRUE(std::isfinite(e.temperature.value));
        ASSERT_GE(*e.inside, 0);
        ASSERT_LE(*e.inside, 1 + 1e-9);
        if (!e.rate) continue;
        ASSERT_TRUE(std::isfinite(e.rate_low->value) && std::isfinite(e.rate_high->value));
        ASSERT_LE(e.rate_low->value, e.rate->value);
        ASSERT_LE(e.rate->value, e.rate_high->value);
        ASSERT_TRUE(e.enter_in_s && e.announce_in_s);
        ASSERT_LE(or_never(*e.announce_in_s), or_never((*e.enter_in_s)[0]));
        for (const auto& times : {e.enter_in_s, e.stay_s}) {
          if (!times) continue;
          ASSERT_GE(or_never((*times)[0]), 0);
          ASSERT_LE(or_never((*times)[0]), or_never((*times)[1]));
          ASSERT_LE(or_never((*times)[1]), or_never((*times)[2]));
        }
      }
    }
  }
}

// --- what a reading stands for ---

TEST(Thermometer, TheMiddleOfTheStepDependsOnItsRounding) {
  EXPECT_NEAR(Fed(thermometer_config(2, Rounding::round)).reading(40).now().temperature.value, 40, 0.05);
  EXPECT_NEAR(Fed(thermometer_config(2, Rounding::floor)).reading(40).now().temperature.value, 41, 0.05);
  EXPECT_NEAR(Fed(thermometer_config(2, Rounding::unknown)).reading(40).now().temperature.value, 40.5, 0.05)
      << "half of each";
}

TEST(Thermometer, ReadsASensorThatRoundsDown) {
  const ThermalEstimate e = Fed(thermometer_config(0.5, Rounding::floor)).course(line(30, 2), 240).now();
  EXPECT_NEAR(e.temperature.value, 38, 0.12);
}

TEST(Thermometer, ReadsAFahrenheitDecoder) {
  // A step of 1 °F is 5/9 °C.
  const ThermalEstimate e = Fed(thermometer_config(5.0 / 9)).course(line(30, 2), 240).now();
  EXPECT_NEAR(e.rate->value, 2, 0.2);
  EXPECT_NEAR(e.temperature.value, 38, 0.12);
}

// --- flags ---

TEST(Thermometer, AReadingThatNoLongerChangesIsFrozen) {
  Fed fed;
  fed.course(line(25, 3), 180);
  EXPECT_FALSE(fed.now().frozen);
  for (int i = 0; i < 90; ++i) fed.reading(34);
  EXPECT_TRUE(fed.now().frozen);
  fed.reading(35);
  EXPECT_FALSE(fed.now().frozen) << "the first change ends it";
}

TEST(Thermometer, AJumpThatStaysIsASubstitute) {
  Fed fed;
  fed.course(line(30, 2), 120);
  for (int i = 0; i < 8; ++i) {
    fed.reading(80);
    EXPECT_EQ(fed.last(), Intake::suspicious);
    EXPECT_NEAR(fed.now().temperature.value, 34, 0.5) << "the estimate stays";
  }
  fed.reading(80);
  EXPECT_TRUE(fed.now().substitute);
  EXPECT_FALSE(fed.now().rate);
}

TEST(Thermometer, AnUnevenPaceIsIrregularAndWide) {
  // A drive: two minutes fast, two minutes slow, again and again.
  Fed fed;
  double fluid = 0;
  const auto drive = [&](double s) {
    fluid += (std::fmod(s, 200) < 100 ? 4.5 : 0.9) / 60;
    return fluid;
  };
  fed.course(drive, 700);
  EXPECT_TRUE(fed.now().irregular);
  const auto enter = *fed.now().enter_in_s;
  EXPECT_GT(or_never(enter[2]), 1.5 * or_never(enter[0]));
  EXPECT_FALSE(Fed().course(line(0, 2.7), 700).now().irregular);
}

// --- announced changes ---

TEST(Thermometer, AnAnnouncedChangeIsFollowedSooner) {
  const auto course = [](double s) { return s < 300 ? 20 + s / 60 : 25 + 3 * (s - 300) / 60; };
  const auto settled = [&](bool told) {
    Fed fed;
    fed.course(course, 300);
    if (told) fed.announce(Announcement::selector_moved);
    double after_s = 0;
    while (after_s < 300 && std::abs(fed.now().rate->value - 3) > 0.4) {
      fed.course(course, 1);
      ++after_s;
    }
    return after_s;
  };
  EXPECT_LT(settled(true), settled(false));
  EXPECT_LE(settled(true), 45);
}

TEST(Thermometer, AVehicleThatMovesIsNotForecastAsSmooth) {
  const auto width = [](std::optional<Announcement> what) {
    Fed fed;
    fed.course(line(15, 2), 240);
    if (what) fed.announce(*what);
    fed.course(line(15, 2), 240);
    const auto enter = *fed.now().enter_in_s;
    return *enter[2] - *enter[0];
  };
  EXPECT_GT(width(Announcement::vehicle_drove_off), 1.5 * width(std::nullopt));
}

// --- size ---

TEST(Thermometer, NeedsLittleAndConstantMemory) {
  static_assert(sizeof(Thermometer) < 4096, "20 hypotheses of 11 numbers, and what stands beside them");
  static_assert(std::is_trivially_copyable_v<WarmingHypotheses>, "no heap");
}

}  // namespace
}  // namespace sumplog
