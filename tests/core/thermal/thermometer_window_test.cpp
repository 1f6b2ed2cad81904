#include <gtest/gtest.h>

#include "core/thermal/thermometer_fixture.h"

namespace sumplog {
namespace {

using testing::Fed;
using testing::line;
using testing::newton;
using testing::or_never;
using testing::thermometer_config;

// --- times ahead against closed forms ---

TEST(ThermometerAhead, ANoiselessWarmUpIsForetoldWithinATenthAfterThreeSteps) {
  // Newton's law with a time constant of 17 min, which the estimator takes for the likeliest.
  const auto course = newton(25, 70, 17 * 60);
  const double enters_s = 17 * 60 * std::log((70.0 - 25) / (70 - 35));
  const double stays_s = 17 * 60 * std::log((70.0 - 35) / (70 - 45));
  // 28 °C is three steps on: the edge to it lies at 27.5 °C.
  const double third_s = 17 * 60 * std::log((70.0 - 25) / (70 - 27.5));
  Fed fed;
  fed.course(course, std::ceil(third_s) + 1);
  while (fed.now_s() < enters_s - 30) {
    const double left = enters_s - fed.now_s();
    ASSERT_NEAR(or_never((*fed.now().enter_in_s)[1]), left, 0.1 * left) << "at " << fed.now_s();
    ASSERT_NEAR(or_never((*fed.now().stay_s)[1]), stays_s, 0.2 * stays_s) << "at " << fed.now_s();
    fed.course(course, 1);
  }
}

TEST(ThermometerAhead, OtherTimeConstantsLieWithinTheInterval) {
  // 20 → 90 °C in 600 s: 35…45 °C from 144.697 s, for 120.402 s (closed form).
  Fed fed;
  fed.course(newton(20, 90, 600), 60);
  for (; fed.now_s() < 135; fed.course(newton(20, 90, 600), 1)) {
    const double left = 144.697234 - fed.now_s();
    const auto enter = *fed.now().enter_in_s;
    EXPECT_LE(or_never(enter[0]), left + 1) << fed.now_s();
    EXPECT_GE(or_never(enter[2]), left - 1) << fed.now_s();
    EXPECT_NEAR(or_never(enter[1]), left, 0.1 * left + 1) << fed.now_s();
    EXPECT_NEAR(or_never((*fed.now().stay_s)[1]), 120.402417, 15) << fed.now_s();
  }
}

TEST(ThermometerAhead, InsideTheStayIsWhatIsLeft) {
  Fed fed;
  fed.course(newton(20, 90, 600), 202);
  EXPECT_EQ(fed.side(), WindowState::inside);
  EXPECT_EQ(or_never((*fed.now().enter_in_s)[1]), 0);
  EXPECT_NEAR(or_never((*fed.now().stay_s)[1]), 265.099651 - 202, 6);
}

TEST(ThermometerAhead, FallingFromAboveItIsEnteredAtTheHighEdge) {
  Fed fed;
  fed.course(newton(60, 15, 1200), 240);
  const double enters_s = 1200 * std::log(45.0 / 30);
  EXPECT_EQ(fed.side(), WindowState::above);
  EXPECT_NEAR(or_never((*fed.now().enter_in_s)[1]), enters_s - 240, 0.08 * (enters_s - 240));
  EXPECT_NEAR(or_never((*fed.now().stay_s)[1]), 1200 * std::log(30.0 / 20), 60);
}

TEST(ThermometerAhead, MovingAwayFromTheWindowItIsMostLikelyNeverEntered) {
  for (const auto& [from, rate] : {std::pair{30.0, -3.0}, std::pair{50.0, 3.0}}) {
    const ThermalEstimate e = Fed().course(line(from, rate), 240).now();
    ASSERT_TRUE(e.enter_in_s && e.announce_in_s);
    EXPECT_FALSE((*e.enter_in_s)[1]);
    EXPECT_FALSE((*e.enter_in_s)[2]);
  }
}

TEST(ThermometerAhead, ANarrowWindowAtThirtySixDegreesStartsInFortySecondsToTwoMinutes) {
  // Common practice, no source: 36 °C read against a check at 39 °C (38…40 °C) leaves a short time only.
  for (const double rate : {1.5, 2.0, 3.0}) {
    ThermometerConfig c = thermometer_config();
    c.window = TemperatureWindow{{38}, {40}};
    Fed fed(c);
    const double to_36_s = (36 - 24) / rate * 60;
    fed.course(line(24, rate), to_36_s);
    const auto enter = *fed.now().enter_in_s;
    EXPECT_GE(or_never(enter[1]), 35) << rate;
    EXPECT_LE(or_never(enter[1]), 120) << rate;
    EXPECT_NEAR(or_never(enter[1]), 2 / rate * 60, 0.2 * 2 / rate * 60) << rate;
    EXPECT_TRUE(fed.now().fast) << "2 °C at this rate last " << 120 / rate << " s";
  }
}

TEST(ThermometerAhead, AnnouncesNotLaterThanTheLowQuantile) {
  const ThermalEstimate e = Fed().course(line(25, 2), 150).now();
  ASSERT_TRUE(e.announce_in_s && e.enter_in_s);
  EXPECT_LE(or_never(*e.announce_in_s), or_never((*e.enter_in_s)[0]));
  EXPECT_LT(or_never((*e.enter_in_s)[0]), or_never((*e.enter_in_s)[1]));
  EXPECT_LT(or_never((*e.enter_in_s)[1]), or_never((*e.enter_in_s)[2]));
}

TEST(ThermometerAhead, WithoutAWindowThereIsNoSideAndNoTime) {
  ThermometerConfig c = thermometer_config();
  c.window.reset();
  const ThermalEstimate e = Fed(c).course(line(30, 3), 120).now();
  EXPECT_TRUE(e.rate);
  EXPECT_FALSE(e.side || e.inside || e.enter_in_s || e.stay_s || e.announce_in_s);
}

// --- side: hysteresis in probability ---

TEST(ThermometerSide, FollowsARiseThroughTheWindowOnceAndPromptly) {
  Fed fed;
  double entered_s = 0;
  double left_s = 0;
  int switches = 0;
  WindowState before = WindowState::unknown;
  for (int i = 0; i < 700; ++i) {
    fed.course(line(30, 1.5), 1);
    if (fed.side() == before) continue;
    ++switches;
    if (fed.side() == WindowState::inside) entered_s = fed.now_s();
    if (fed.side() == WindowState::above) left_s = fed.now_s();
    before = fed.side();
  }
  EXPECT_EQ(switches, 3) << "below, inside, above";
  EXPECT_NEAR(entered_s, 200, 12);  // 0.3 °C
  EXPECT_NEAR(left_s, 600, 12);
}

TEST(ThermometerSide, AReadingThatTogglesAtTheEdgeDoesNotMakeItChatter) {
  Fed fed;
  fed.course(line(33, 1), 90);
  int switches = 0;
  WindowState before = fed.side();
  for (int i = 0; i < 600; ++i) {
    fed.reading(i % 2 == 0 ? 35 : 34);
    if (fed.side() != before) ++switches;
    before = fed.side();
  }
  EXPECT_LE(switches, 1);
}

TEST(ThermometerSide, TheFirstReadingDecidesAtOnce) {
  EXPECT_EQ(Fed().reading(40).side(), WindowState::inside);
  EXPECT_EQ(Fed().reading(30).side(), WindowState::below);
  EXPECT_EQ(Fed().reading(50).side(), WindowState::above);
}

TEST(ThermometerSide, AReadingOnTheEdgeAloneIsNotInside) {
  // 35 stands for 34.5…35.5 °C: half of it lies below the window.
  EXPECT_EQ(Fed().reading(35).side(), WindowState::below);
  EXPECT_LT(Fed().reading(35).now().inside.value(), 0.7);
  EXPECT_EQ(Fed(thermometer_config(1, Rounding::floor)).reading(35).side(), WindowState::inside);
}

// --- too fast ---

TEST(ThermometerFast, IsAStayShorterThanTheMinimum) {
  // 10 °C at 4 °C/min last 150 s, at 7 °C/min 86 s.
  EXPECT_FALSE(Fed().course(line(20, 4), 200).now().fast);
  EXPECT_TRUE(Fed().course(line(20, 7), 115).now().fast);
}

TEST(ThermometerFast, IsNotSaidOfAWindowThatWillNotStart) {
  EXPECT_FALSE(Fed().course(line(40, -5), 75).now().fast) << "just left, falling";
  EXPECT_FALSE(Fed().course(line(50, 5), 120).now().fast);
}

TEST(ThermometerFast, InsideTheWholeStayCountsNotWhatIsLeft) {
  Fed slow;
  slow.course(line(20, 3), 465);
  ASSERT_EQ(slow.side(), WindowState::inside);
  EXPECT_LT(or_never((*slow.now().stay_s)[1]), 60);
  EXPECT_FALSE(slow.now().fast);
  Fed fast;
  fast.course(line(20, 7), 170);
  ASSERT_EQ(fast.side(), WindowState::inside);
  EXPECT_TRUE(fast.now().fast);
}

}  // namespace
}  // namespace sumplog
