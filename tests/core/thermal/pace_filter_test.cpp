#include "core/thermal/pace_filter.h"

#include <gtest/gtest.h>

#include <cmath>

namespace sumplog {
namespace {

class PaceFilterTest : public ::testing::Test {
 protected:
  /// One degree every `seconds`, `count` times.
  void rise(double seconds, int count, double by = 1) {
    for (int i = 0; i < count; ++i) {
      now_s_ += seconds;
      reading_ += by;
      pace_.on_reading(now_s_, reading_, 1);
    }
  }
  PaceFilterTest() { pace_.restart(0, 30); }
  PaceFilter pace_;
  double now_s_ = 0;
  double reading_ = 30;
};

TEST_F(PaceFilterTest, CountsLevelsInOneDirection) {
  EXPECT_EQ(pace_.direction(), 0);
  EXPECT_FALSE(pace_.on_reading(5, 30, 1));
  rise(40, 1);
  EXPECT_EQ(pace_.direction(), 1);
  EXPECT_EQ(pace_.passages(), 0) << "the first level was under way already";
  rise(40, 3);
  EXPECT_EQ(pace_.passages(), 3);
  EXPECT_EQ(pace_.level_c(), 34);
  EXPECT_EQ(pace_.passed_at_s(), 160);
}

TEST_F(PaceFilterTest, AStepThatWasToldWithFewDigitsStillMakesLevels) {
  // A decoder in °F: steps of 5/9 °C, told as 0.556; a level is two of them.
  for (int i = 1; i <= 60; ++i) {
    now_s_ += 20;
    pace_.on_reading(now_s_, 30 + i * 5 / 9.0, 2 * 0.556);
  }
  EXPECT_EQ(pace_.passages(), 29) << "one level each 40 s; the first was under way already";
  EXPECT_NEAR(pace_.level_c(), 30 + 60 * 5 / 9.0, 0.6);
}

TEST_F(PaceFilterTest, OneStepBackIsNoise) {
  rise(40, 4);
  EXPECT_FALSE(pace_.on_reading(now_s_ + 1, 33, 1));
  EXPECT_EQ(pace_.direction(), 1);
  EXPECT_TRUE(pace_.on_reading(now_s_ + 2, 32, 1));
  EXPECT_EQ(pace_.direction(), -1);
  EXPECT_EQ(pace_.passages(), 0);
}

TEST_F(PaceFilterTest, ForecastsAnEvenPace) {
  rise(40, 20);
  for (const double levels : {1.0, 3.0, 5.0}) {
    const PaceForecast f = pace_.forecast(levels, 0, false);
    // Each level is taken to need 2 % more than the one before: late rather than early, by less than 15 %.
    EXPECT_GT(std::exp(f.mean), 40) << levels;
    EXPECT_LT(std::exp(f.mean), 1.15 * 40) << levels;
  }
}

TEST_F(PaceFilterTest, IsAsUnsureAsThePaceWanders) {
  // On the road ln(seconds per degree) changes by about 0.5 within two minutes.
  rise(40, 20);
  EXPECT_GT(pace_.forecast(3, 0, false).sd, 0.3);
  EXPECT_LT(pace_.forecast(3, 0, false).sd, 0.9);
  EXPECT_NEAR(pace_.forecast(3, 0, true).sd, 0.75 * pace_.forecast(3, 0, false).sd, 1e-12);
}

TEST_F(PaceFilterTest, AWaitTellsThatTheFluidHasBecomeSlower) {
  rise(40, 20);
  const double none = pace_.forecast(1, 0, false).mean;
  const double some = pace_.forecast(1, 60, false).mean;
  const double long_one = pace_.forecast(1, 200, false).mean;
  EXPECT_GT(some, none);
  EXPECT_GT(long_one, some);
  EXPECT_GT(std::exp(long_one), 3 * 40);
}

TEST_F(PaceFilterTest, AnEventLoosensWhatWasLearned) {
  rise(40, 20);
  const double before = pace_.forecast(1, 0, false).sd;
  pace_.loosen();
  EXPECT_GT(pace_.forecast(1, 0, false).sd, before);
}

TEST_F(PaceFilterTest, SeveralLevelsAtOnceCountAsThatMany) {
  rise(40, 3);
  rise(120, 1, 3);
  EXPECT_EQ(pace_.level_c(), 36);
  EXPECT_NEAR(std::exp(pace_.forecast(1, 0, false).mean), 40, 8);
}

}  // namespace
}  // namespace sumplog
