#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <limits>
#include <random>

#include "core/thermal/thermometer.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1700000000000000);

/// Fine readings (0.01 °C), so that the arithmetic of the times can be seen without the step of a sensor.
class WindowAhead : public ::testing::Test {
 protected:
  static ThermometerConfig fine() {
    ThermometerConfig c;
    c.step = {0.01};
    c.rounding = Rounding::round;
    c.window = TemperatureWindow{{35}, {45}};
    return c;
  }
  void use(const ThermometerConfig& c) { thermometer_.emplace(c); }
  void reading(double value, Duration later = 500ms) {
    now_ += later;
    thermometer_->on_reading(now_, Celsius{value});
  }
  /// 90 s of a straight course that ends at `end`.
  void course(double end, double per_minute) {
    for (int i = 180; i >= 0; --i) reading(end - per_minute / 60 * 0.5 * i);
  }
  ThermalEstimate now() const { return *thermometer_->estimate(); }
  WindowState side() const { return *thermometer_->estimate()->side; }

  std::optional<Thermometer> thermometer_{fine()};
  TimePoint now_ = kStart;
};

double seconds(const std::optional<double>& s) {
  return s.value_or(std::numeric_limits<double>::infinity());
}

// --- times ahead: distance divided by rate ---

TEST_F(WindowAhead, RisingFromBelowItIsEnteredAtTheLowEdgeAndLeftAtTheHighOne) {
  course(30, 5);
  EXPECT_EQ(side(), WindowState::below);
  EXPECT_NEAR(seconds((*now().enter_in_s)[1]), 60, 0.5);
  EXPECT_NEAR(seconds((*now().stay_s)[1]), 120, 1);
}

TEST_F(WindowAhead, InsideTheStayIsWhatIsLeft) {
  course(40, 5);
  EXPECT_EQ(side(), WindowState::inside);
  EXPECT_DOUBLE_EQ(seconds((*now().enter_in_s)[1]), 0);
  EXPECT_NEAR(seconds((*now().stay_s)[1]), 60, 0.5);
}

TEST_F(WindowAhead, FallingInsideTheStayEndsAtTheLowEdge) {
  course(40, -5);
  EXPECT_NEAR(seconds((*now().stay_s)[1]), 60, 0.5);
}

TEST_F(WindowAhead, FallingFromAboveItIsEnteredAtTheHighEdge) {
  course(50, -5);
  EXPECT_EQ(side(), WindowState::above);
  EXPECT_NEAR(seconds((*now().enter_in_s)[1]), 60, 0.5);
  EXPECT_NEAR(seconds((*now().stay_s)[1]), 120, 1);
}

TEST_F(WindowAhead, MovingAwayFromItItIsNeverEnteredAndNoStayIsPromised) {
  for (const auto& [end, rate] : {std::pair{30.0, -5.0}, std::pair{50.0, 5.0}}) {
    use(fine());
    course(end, rate);
    const ThermalEstimate e = now();
    for (const auto& element : *e.enter_in_s) EXPECT_FALSE(element);
    ASSERT_TRUE(now().announce_in_s);
    EXPECT_FALSE(*now().announce_in_s);
    EXPECT_FALSE(now().stay_s);
  }
}

TEST_F(WindowAhead, AnnouncesEarlierThanTheLowQuantile) {
  ThermometerConfig c = fine();
  c.step = {1};
  use(c);
  for (int i = 0; i <= 180; ++i) reading(std::round(25 + 3.0 / 60 * 0.5 * i));
  ASSERT_TRUE(now().enter_in_s && now().announce_in_s);
  EXPECT_LT(seconds(*now().announce_in_s), seconds((*now().enter_in_s)[0]));
  EXPECT_LT(seconds((*now().enter_in_s)[0]), seconds((*now().enter_in_s)[1]));
  EXPECT_LT(seconds((*now().enter_in_s)[1]), seconds((*now().enter_in_s)[2]));
}

TEST_F(WindowAhead, WithoutAWindowThereIsNoSideAndNoTime) {
  ThermometerConfig c = fine();
  c.window.reset();
  use(c);
  course(40, 5);
  EXPECT_TRUE(now().rate);
  EXPECT_FALSE(now().side || now().enter_in_s || now().stay_s || now().announce_in_s);
}

TEST_F(WindowAhead, QuantilesAreInOrderAndNeverNegativeWhateverComes) {
  std::mt19937 random(9);
  std::normal_distribution<double> step(0.02, 0.4);
  ThermometerConfig c = fine();
  c.step = {1};
  use(c);
  double fluid = 20;
  for (int i = 0; i < 20000; ++i) {
    fluid += step(random);
    if (fluid > 70) fluid = 10;
    reading(std::round(fluid));
    const ThermalEstimate e = now();
    ASSERT_TRUE(std::isfinite(e.temperature.value));
    if (e.rate) {
      ASSERT_LE(e.rate_low->value, e.rate->value);
      ASSERT_LE(e.rate->value, e.rate_high->value);
    }
    for (const auto& q : {e.enter_in_s, e.stay_s}) {
      if (!q) continue;
      ASSERT_GE(seconds((*q)[0]), 0);
      ASSERT_LE(seconds((*q)[0]), seconds((*q)[1]));
      ASSERT_LE(seconds((*q)[1]), seconds((*q)[2]));
    }
  }
}

// --- side ---

TEST_F(WindowAhead, ItIsEnteredATenthOfADegreeInsideItsEdgeAndLeftAtTheEdge) {
  reading(34.99);
  EXPECT_EQ(side(), WindowState::below);
  reading(35.05);
  EXPECT_EQ(side(), WindowState::below) << "no chatter at the edge";
  reading(35.11);
  EXPECT_EQ(side(), WindowState::inside);
  reading(35.01);
  EXPECT_EQ(side(), WindowState::inside);
  reading(34.99);
  EXPECT_EQ(side(), WindowState::below);
}

TEST_F(WindowAhead, TheHighEdgeIsTheMirrorOfTheLowOne) {
  reading(45.01);
  EXPECT_EQ(side(), WindowState::above);
  reading(44.95);
  EXPECT_EQ(side(), WindowState::above);
  reading(44.89);
  EXPECT_EQ(side(), WindowState::inside);
  reading(45.0);
  EXPECT_EQ(side(), WindowState::inside);
  reading(45.01);
  EXPECT_EQ(side(), WindowState::above);
}

TEST_F(WindowAhead, TheFirstReadingNeedsNoMargin) {
  reading(35.0);
  EXPECT_EQ(side(), WindowState::inside);
}

TEST_F(WindowAhead, AConstantReadingOnTheEdgeStaysInside) {
  for (const double edge : {35.0, 45.0}) {
    use(fine());
    for (int i = 0; i < 300; ++i) {
      reading(edge);
      ASSERT_EQ(side(), WindowState::inside) << edge << " after " << i;
    }
  }
}

TEST_F(WindowAhead, ASideIsNotKeptAtTheOtherEdge) {
  reading(50);
  EXPECT_EQ(side(), WindowState::above);
  reading(35.05, 50s);
  EXPECT_EQ(side(), WindowState::inside) << "far from the high edge it is not above";
  use(fine());
  reading(30);
  reading(44.95, 50s);
  EXPECT_EQ(side(), WindowState::inside) << "far from the low edge it is not below";
}

TEST_F(WindowAhead, ANarrowWindowHasANarrowMargin) {
  ThermometerConfig c = fine();
  c.window = TemperatureWindow{{38}, {38.2}};
  use(c);
  reading(37.9);
  reading(38.06);
  EXPECT_EQ(side(), WindowState::inside);
}

// --- too fast ---

TEST_F(WindowAhead, AStayShorterThanTheMinimumIsFast) {
  ThermometerConfig c = fine();
  c.minimum_stay = 120s;
  use(c);
  course(30, 4.9);
  EXPECT_FALSE(now().fast);
  use(c);
  course(30, 5.2);
  EXPECT_TRUE(now().fast);
}

TEST_F(WindowAhead, WhatIsLeftOfAStayIsNotMeasuredAgainstTheMinimum) {
  ThermometerConfig c = fine();
  c.minimum_stay = 120s;
  use(c);
  course(44, 4);
  EXPECT_FALSE(now().fast);
}

TEST_F(WindowAhead, ARiseAboveTheLimitIsFastWithAndWithoutAWindow) {
  for (const bool with_window : {true, false}) {
    ThermometerConfig c = fine();
    c.rate_limit = CelsiusPerMinute{3};
    if (!with_window) c.window.reset();
    use(c);
    course(30, 2.9);
    EXPECT_FALSE(now().fast);
    use(c);
    course(30, 3.1);
    EXPECT_TRUE(now().fast);
  }
}

}  // namespace
}  // namespace sumplog
