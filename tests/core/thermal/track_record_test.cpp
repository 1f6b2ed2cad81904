#include "core/thermal/track_record.h"

#include <gtest/gtest.h>

#include <cmath>

namespace sumplog {
namespace {

class TrackRecordTest : public ::testing::Test {
 protected:
  /// A level that took `seconds`, where the smooth law promised `promised`.
  void passage(double promised, double seconds) {
    const RateMoments rate{1 / promised, std::pow(0.1 / promised, 2)};
    TrackRecord::Passage p;
    p.at_s = now_s_;
    p.since_s = since_s_;
    p.one_level = true;
    p.direction = 1;
    p.level_c = 1;
    p.tick_s = 1;
    record_.on_passage(p, rate);
    since_s_ = now_s_;
    now_s_ += seconds;
  }
  void passages(int count, double promised, double seconds) {
    for (int i = 0; i < count; ++i) passage(promised, seconds);
  }
  TrackRecord record_;
  double now_s_ = 100;
  double since_s_ = 0;
};

TEST_F(TrackRecordTest, BeginsGood) {
  EXPECT_EQ(record_.misfit(), 1);
  EXPECT_EQ(record_.smooth_weight(false), 1);
  EXPECT_DOUBLE_EQ(record_.smooth_weight(true), 0.3) << "a moving vehicle is not smooth";
}

TEST_F(TrackRecordTest, KeptPromisesKeepItGood) {
  passages(30, 40, 41);
  EXPECT_LT(record_.misfit(), 1);
  EXPECT_EQ(record_.smooth_weight(false), 1);
}

TEST_F(TrackRecordTest, BrokenPromisesHandTheForecastToThePace) {
  for (int i = 0; i < 10; ++i) passage(40, i % 2 == 0 ? 25 : 65);
  EXPECT_GT(record_.misfit(), 2.1);
  EXPECT_EQ(record_.smooth_weight(false), 0);
}

TEST_F(TrackRecordTest, OnlyALevelThatFollowsItsPromiseAtOnceIsHeldAgainstIt) {
  const RateMoments rate{1.0 / 40, std::pow(0.1 / 40, 2)};
  // Promised 40 s, took 400: a bad record, unless the two do not belong together.
  const auto misfit_after = [&](double since_s, bool one_level, double direction) {
    TrackRecord record;
    TrackRecord::Passage p;
    p.at_s = 100;
    p.since_s = 60;
    p.one_level = true;
    p.direction = direction;
    p.level_c = 1;
    p.tick_s = 1;
    record.on_passage(p, rate);
    p.at_s = 500;
    p.since_s = since_s;
    p.one_level = one_level;
    record.on_passage(p, rate);
    return record.misfit();
  };
  EXPECT_GT(misfit_after(100, true, 1), 2);
  EXPECT_EQ(misfit_after(99, true, 1), 1) << "of another level";
  EXPECT_EQ(misfit_after(100, false, 1), 1) << "two levels at once, or the other way";
  EXPECT_EQ(misfit_after(100, true, -1), 1) << "the rate promised nothing in that direction";
}

TEST_F(TrackRecordTest, OfALearntStepLessIsPromised) {
  const auto misfit_after = [](bool learnt_step) {
    TrackRecord record;
    TrackRecord::Passage p;
    p.at_s = 100;
    p.since_s = 60;
    p.one_level = true;
    p.direction = 1;
    p.level_c = 1;
    p.tick_s = 1;
    p.learnt_step = learnt_step;
    const RateMoments rate{1.0 / 40, std::pow(0.1 / 40, 2)};
    record.on_passage(p, rate);
    p.since_s = 100;
    p.at_s = 152;
    record.on_passage(p, rate);
    return record.misfit();
  };
  EXPECT_LT(misfit_after(true), misfit_after(false));
}

TEST_F(TrackRecordTest, AnEventForgivesMostAndGoodLevelsTheRest) {
  for (int i = 0; i < 10; ++i) passage(40, i % 2 == 0 ? 25 : 65);
  const double before = record_.misfit();
  record_.forgive();
  EXPECT_LT(record_.misfit(), before);
  passages(60, 40, 40);
  EXPECT_EQ(record_.smooth_weight(false), 1);
}

TEST_F(TrackRecordTest, OneSurpriseDoesNotSpoilALongRecord) {
  passages(20, 40, 40);
  passage(40, 400);
  passage(40, 40);
  EXPECT_GT(record_.smooth_weight(false), 0.5);
}

}  // namespace
}  // namespace sumplog
