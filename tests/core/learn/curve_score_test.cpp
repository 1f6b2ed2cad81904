#include "core/learn/curve_score.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

/// Ten minutes of a curve that was heard every five seconds in steps of 0.1 °C, and what else is known of them. The values that
/// are expected follow from the densities of curve_score.cpp, by hand.
class CurveScoreTest : public ::testing::Test {
 protected:
  static constexpr int kEnd_s = 600;
  /// 20…38 °C: it rises by 0.03 °C/s.
  static double steady(double t_s) { return 20 + 0.03 * t_s; }

  void hear(const std::function<double(double)>& temp_c, int spacing_s = 5) {
    curve_ = {};
    for (int t = 0; t <= kEnd_s; t += spacing_s) {
      curve_.at.push_back(TimePoint{t * 1s});
      curve_.raw.push_back(static_cast<std::int32_t>(std::lround((temp_c(t) + 40) * 10)));
    }
  }
  static void know(TimedValues& values, const std::function<double(double)>& value, int from_s = 0,
                   int to_s = kEnd_s, int spacing_s = 1) {
    for (int t = from_s; t <= to_s; t += spacing_s) values.add(TimePoint{t * 1s}, value(t));
  }
  [[nodiscard]] CurveScore score(TimePoint begin = TimePoint{}) const {
    return score_curve(curve_, Encoding{0.1, -40}, evidence_, begin).value_or(CurveScore{});
  }

  RawCurve curve_;
  Evidence evidence_;
};

TEST_F(CurveScoreTest, AColdStartIsComparedWithWhatWasHeardSoonBehindIt) {
  hear(steady);
  evidence_.soak_c = 20;
  EXPECT_GT(score(TimePoint{-70s})[Ground::start], 2);
  EXPECT_EQ(score(TimePoint{-71s})[Ground::start], 0) << "it may have warmed up since";
}

TEST_F(CurveScoreTest, TheLagEndsWithTheRecordingWhereTheCoolantNeverGetsHot) {
  hear(steady);
  know(evidence_.coolant_c, [](double t) { return 20 + 40 * t / kEnd_s; });
  // 18 °C behind 40 °C, and half of them when the coolant has half.
  EXPECT_NEAR(score()[Ground::lag], 0.930, 0.02);
}

TEST_F(CurveScoreTest, MomentsWithoutACoolantSayNothingOfTheLag) {
  hear(steady);
  const auto coolant = [](double t) { return 20 + 40 * t / kEnd_s; };
  know(evidence_.coolant_c, coolant, 3, 200);
  know(evidence_.coolant_c, coolant, 400, kEnd_s);
  // The coolant has half of its rise at 300 s, which nobody heard: at 400 s the curve has two thirds of its own.
  EXPECT_NEAR(score()[Ground::lag], -0.17, 0.04);
}

TEST_F(CurveScoreTest, WithoutARiseOfBothThereIsNoLag) {
  hear(steady);
  know(evidence_.coolant_c, [](double t) { return 20 + 14 * t / kEnd_s; });
  EXPECT_EQ(score()[Ground::lag], 0) << "a coolant of 14 °C more is no warm-up";
  evidence_ = {};
  know(evidence_.coolant_c, [](double t) { return 20 + 40 * t / kEnd_s; });
  hear([](double t) { return 38 - 0.03 * t; });
  EXPECT_EQ(score()[Ground::lag], 0) << "it falls";
}

/// In which half minutes the car drives: in no order that the temperature or the time has as well.
bool drives(double t_s) {
  constexpr unsigned kHalfMinutes = 0b10110010001110100110;
  return (kHalfMinutes >> static_cast<unsigned>(t_s / 30) & 1U) != 0;
}
double speed_kmh(double t_s) {
  return drives(t_s) ? 50 : 0;
}
/// Rises by 0.05 °C/s while it drives, by a tenth of that while it stands.
double driven(double t_s) {
  double temp_c = 20;
  for (int t = 0; t < t_s; ++t) temp_c += drives(t) ? 0.05 : 0.005;
  return temp_c;
}

TEST_F(CurveScoreTest, APaceThatFollowsTheDrivingSpeaksForTheFluid) {
  hear(driven);
  know(evidence_.speed_kmh, speed_kmh);
  EXPECT_GT(score()[Ground::load], 3);
}

TEST_F(CurveScoreTest, FewBlocksOrNoChangeOfDrivingSayNothingOfTheLoad) {
  hear(driven);
  know(evidence_.speed_kmh, speed_kmh, 290, 580);
  EXPECT_EQ(score()[Ground::load], 0) << "nine blocks of half a minute whose speed is known";
  evidence_ = {};
  know(evidence_.speed_kmh, [](double t) { return t > 60 && t < 90 ? 50 : 0; });
  EXPECT_EQ(score()[Ground::load], 0) << "it hardly drove";
  evidence_ = {};
  know(evidence_.speed_kmh, [](double t) { return t > 60 && t < 90 ? 0 : 50; });
  EXPECT_EQ(score()[Ground::load], 0) << "it hardly stood";
}

TEST_F(CurveScoreTest, ABlockWhoseMiddleNobodyHeardSaysNothingOfTheLoad) {
  // Further apart than a speed is believed to stay: only the ends of each block are known.
  for (int i = 0; i < 16; ++i) {
    const TimePoint at{i * 150s};
    curve_.at.push_back(at);
    curve_.raw.push_back(600 + 10 * i + (i % 4 < 2 ? 5 : 0));
    evidence_.speed_kmh.add(at, i % 4 < 2 ? 50 : 0);
  }
  EXPECT_NE(score()[Ground::pace], 0) << "it is a curve";
  EXPECT_EQ(score()[Ground::load], 0);
}

TEST_F(CurveScoreTest, ACopyAgreesAtSixMomentsOrMore) {
  hear(steady);
  know(evidence_.coolant_c, steady, 0, 540, 135);
  EXPECT_EQ(score().copies, "") << "five";
  evidence_ = {};
  hear(steady, 3);
  know(evidence_.coolant_c, steady, 0, 3, 3);
  know(evidence_.coolant_c, steady, 135, 540, 135);
  EXPECT_EQ(score().copies, "coolant temperature");
}

TEST_F(CurveScoreTest, ACopyIsCalledByWhatItIsACopyOf) {
  hear(steady);
  know(evidence_.oil_c, steady);
  EXPECT_EQ(score().copies, "engine oil temperature");
  evidence_ = {};
  know(evidence_.ambient_c, steady);
  EXPECT_EQ(score().copies, "ambient temperature");
  EXPECT_LT(score()[Ground::copy], -10);
}

TEST_F(CurveScoreTest, AReadingByHandIsHeldAgainstWhatWasHeardAboutThen) {
  hear(steady);
  const auto seen_at = [&](Duration at, double temp_c) {
    evidence_.seen = {{TimePoint{at}, temp_c, 1.0}};
    return score()[Ground::seen];
  };
  EXPECT_NEAR(seen_at(300s, 29), 3.706, 0.01) << "eight seconds of the pace are part of the doubt";
  EXPECT_NEAR(seen_at(-50s, 20), 3.770, 0.01) << "the pace before the beginning is not known";
  EXPECT_NEAR(seen_at(650s, 38), 3.770, 0.01) << "nor the one behind the end";
  EXPECT_EQ(seen_at(671s, 38), 0) << "nothing was heard";
}

}  // namespace
}  // namespace sumplog
