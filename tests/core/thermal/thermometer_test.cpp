#include "core/thermal/thermometer.h"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <functional>
#include <random>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1700000000000000);
constexpr TemperatureWindow kWindow{{35}, {45}};

ThermometerConfig config(std::optional<TemperatureWindow> window = kWindow) {
  ThermometerConfig c;
  c.rounding = Rounding::round;
  c.window = window;
  return c;
}

/// A thermometer that is fed a course of the fluid as a control unit would show it: in steps of 1 °C.
class Fed {
 public:
  explicit Fed(const ThermometerConfig& c = config()) : thermometer_(c) {}

  Fed& reading(double value, Duration later = 500ms) {
    if (begun_) now_ += later;
    begun_ = true;
    thermometer_.on_reading(now_, Celsius{value});
    return *this;
  }
  /// Readings of `course` (of the seconds since the first reading, °C), rounded to whole degrees.
  Fed& course(const std::function<double(double)>& course, Duration length, Duration every = 500ms) {
    for (Duration gone{}; gone <= length; gone += every)
      reading(std::round(course(in_seconds(now_ - kStart + (begun_ ? every : Duration{})))), every);
    return *this;
  }
  Fed& wait(Duration d) {
    now_ += d;
    return *this;
  }
  Fed& forget() {
    thermometer_.forget();
    return *this;
  }
  ThermalEstimate now() const {
    const auto estimate = thermometer_.estimate();
    EXPECT_TRUE(estimate);
    return estimate.value_or(ThermalEstimate{});
  }
  WindowState side() const { return now().side.value_or(WindowState::unknown); }

 private:
  Thermometer thermometer_;
  TimePoint now_ = kStart;
  bool begun_ = false;
};

std::function<double(double)> line(double from, double per_minute) {
  return [=](double s) { return from + per_minute / 60 * s; };
}

// --- straight courses ---

TEST(Thermometer, FindsARateFarBelowTheStepOfTheReadings) {
  // Common practice, no source: what a fluid does at idle lies between these. Bounds: worst of 20 phases of the step.
  struct Case {
    double rate;
    double rate_off;  ///< °C/min
    double temp_off;  ///< °C
  };
  for (const Case& c :
       {Case{0.5, 0.55, 0.51}, Case{1.5, 0.15, 0.15}, Case{3, 0.06, 0.08}, Case{8, 0.06, 0.08}}) {
    int held = 0;
    for (int phase = 0; phase < 20; ++phase) {
      for (const double sign : {1.0, -1.0}) {
        const auto course = line(30 + phase / 20.0, sign * c.rate);
        const ThermalEstimate e = Fed().course(course, 90s).now();
        ASSERT_TRUE(e.rate && e.rate_low && e.rate_high);
        EXPECT_NEAR(e.rate->value, sign * c.rate, c.rate_off) << c.rate << " phase " << phase;
        EXPECT_NEAR(e.temperature.value, course(90), c.temp_off) << c.rate << " phase " << phase;
        if (e.rate_low->value <= sign * c.rate && sign * c.rate <= e.rate_high->value) ++held;
      }
    }
    EXPECT_GE(held, 32) << "of 40 intervals that hold 80 %, at " << c.rate;
  }
}

TEST(Thermometer, AConstantReadingHasNoRateAndPromisesNothing) {
  const ThermalEstimate e = Fed().course(line(30, 0), 90s).now();
  EXPECT_DOUBLE_EQ(e.rate->value, 0);
  EXPECT_LT(e.rate_low->value, 0);
  EXPECT_GT(e.rate_high->value, 0);
  EXPECT_DOUBLE_EQ(e.temperature.value, 30);
  ASSERT_TRUE(e.enter_in_s);
  EXPECT_FALSE((*e.enter_in_s)[1]) << "never";
  EXPECT_FALSE((*e.enter_in_s)[2]) << "never";
  EXPECT_FALSE(e.stay_s);
  EXPECT_FALSE(e.falling);
}

TEST(Thermometer, FollowsAWarmUpByNewtonsLaw) {
  // T = 90 - 70 exp(-t / 600 s): rate (90 - T) / 600 s. A line through 90 s lags, by 45 s / 600 s at most.
  const auto newton = [](double s) { return 90 - 70 * std::exp(-s / 600); };
  const std::pair<double, double> kTable[] = {{144.697234, 5.5}, {201.883342, 5.0}, {265.099651, 4.5},
                                              {335.769473, 4.0}, {508.378716, 3.0}, {1167.546089, 1.0}};
  for (const auto& [seconds, rate] : kTable) {
    const auto length = std::chrono::duration_cast<Duration>(std::chrono::duration<double>(seconds));
    const ThermalEstimate e = Fed().course(newton, length).now();
    EXPECT_GT(e.rate->value, 0.95 * rate) << seconds;
    EXPECT_LT(e.rate->value, 1.2 * rate) << seconds;
    EXPECT_NEAR(e.temperature.value, newton(seconds), 0.5) << seconds;
  }
}

TEST(Thermometer, SaysFallingOnlyWhenTheWholeIntervalFalls) {
  EXPECT_TRUE(Fed().course(line(60, -5), 90s).now().falling);
  EXPECT_FALSE(Fed().course(line(60, 5), 90s).now().falling);
  EXPECT_FALSE(Fed().course(line(60, 0), 90s).now().falling);
}

// --- what is too little ---

TEST(Thermometer, KnowsNothingBeforeTheFirstReading) {
  EXPECT_FALSE(Thermometer(config()).estimate());
}

TEST(Thermometer, HasATemperatureButNoRateFromOneReading) {
  const ThermalEstimate e = Fed().reading(40).now();
  EXPECT_DOUBLE_EQ(e.temperature.value, 40);
  EXPECT_FALSE(e.rate || e.rate_low || e.rate_high || e.enter_in_s || e.stay_s || e.announce_in_s);
  EXPECT_EQ(e.side, WindowState::inside);
}

TEST(Thermometer, HasNoRateWithinTwentySecondsNorOfFourReadings) {
  EXPECT_FALSE(Fed().course(line(30, 8), 19500ms).now().rate);
  EXPECT_TRUE(Fed().course(line(30, 8), 20s).now().rate);
  EXPECT_FALSE(Fed().reading(30).reading(31, 10s).reading(32, 10s).reading(33, 10s).now().rate);
}

TEST(Thermometer, ForgetsTheCourseButNotTheNewestReading) {
  Fed fed;
  fed.course(line(30, 8), 60s).forget();
  const ThermalEstimate e = fed.now();
  EXPECT_DOUBLE_EQ(e.temperature.value, 38);
  EXPECT_FALSE(e.rate);
  EXPECT_EQ(e.side, WindowState::inside);
  fed.course([](double) { return 38; }, 30s);
  EXPECT_NEAR(fed.now().rate->value, 0, 0.01);
}

TEST(Thermometer, ForgettingNothingIsAllowed) {
  Thermometer thermometer(config());
  thermometer.forget();
  EXPECT_FALSE(thermometer.estimate());
}

TEST(Thermometer, ReadingsOlderThanNinetySecondsNoLongerCount) {
  Fed fed;
  fed.course(line(20, 8), 60s).course([](double) { return 50; }, 91s);
  EXPECT_NEAR(fed.now().rate->value, 0, 0.01);
}

// --- any rate of readings ---

TEST(Thermometer, TakesReadingsAtAnyRateWithoutOverflow) {
  // The ring asserts inside. Periods between half the thinning and the thinning itself are the hard ones.
  for (const Duration every :
       {10ms, 50ms, 100ms, 199ms, 200ms, 201ms, 250ms, 300ms, 333ms, 399ms, 400ms, 500ms, 1000ms}) {
    const ThermalEstimate e = Fed().course(line(30, 3), 240s, every).now();
    EXPECT_NEAR(e.rate->value, 3, 0.1) << every.count();
  }
}

TEST(Thermometer, TakesReadingsAtRandomTimes) {
  std::mt19937 random(1);
  std::uniform_int_distribution<int> pause(0, 900);
  Thermometer thermometer(config());
  TimePoint now = kStart;
  for (int i = 0; i < 20000; ++i) {
    thermometer.on_reading(now, Celsius{std::round(20 + in_seconds(now - kStart) / 120)});
    now += std::chrono::milliseconds{pause(random) / (i % 5 == 0 ? 1 : 4)};
  }
  EXPECT_NEAR(thermometer.estimate()->rate->value, 0.5, 0.6);
}

TEST(Thermometer, SeveralReadingsAtOneTimeCountOnce) {
  Fed fed;
  for (int i = 0; i < 100; ++i)
    for (int k = 0; k < 4; ++k) fed.reading(std::round(30 + i / 30.0), k == 0 ? 500ms : 0ms);
  EXPECT_NEAR(fed.now().rate->value, 4, 0.3);
}

// --- what a reading stands for ---

TEST(Thermometer, TheMiddleOfTheStepDependsOnItsRounding) {
  auto c = config();
  c.step = {2};
  c.rounding = Rounding::round;
  EXPECT_DOUBLE_EQ(Fed(c).reading(40).now().temperature.value, 40);
  c.rounding = Rounding::floor;
  EXPECT_DOUBLE_EQ(Fed(c).reading(40).now().temperature.value, 41);
  c.rounding = Rounding::unknown;  // half of each
  EXPECT_DOUBLE_EQ(Fed(c).reading(40).now().temperature.value, 40.5);
}

TEST(Thermometer, TheEstimateStaysWithinTheStepOfTheNewestReading) {
  Fed fed;
  fed.course(line(30, 8), 60s).reading(30);
  EXPECT_DOUBLE_EQ(fed.now().temperature.value, 30.5);
}

}  // namespace
}  // namespace sumplog
