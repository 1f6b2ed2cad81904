#include "core/thermal/vehicle_motion.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class VehicleMotionTest : public ::testing::Test {
 protected:
  /// One speed each second for `seconds`; what was said on the way.
  std::optional<Announcement> speed(double kmh, int seconds) {
    std::optional<Announcement> said;
    for (int i = 0; i < seconds; ++i) {
      now_ += 1s;
      if (const auto what = motion_.on_speed(now_, kmh)) said = what;
    }
    return said;
  }
  VehicleMotion motion_;
  TimePoint now_ = at_micros(1700000000000000);
};

TEST_F(VehicleMotionTest, StandsAfterTwentySecondsBelowWalkingPace) {
  EXPECT_FALSE(speed(0, 20));
  EXPECT_EQ(speed(0, 1), Announcement::vehicle_stopped);
  EXPECT_FALSE(speed(0, 100)) << "said once";
}

TEST_F(VehicleMotionTest, ACreepFromTheBeginningSaysNothing) {
  EXPECT_FALSE(speed(3, 100)) << "neither standing nor driving";
  EXPECT_FALSE(speed(0, 20));
  EXPECT_EQ(speed(0, 1), Announcement::vehicle_stopped);
}

TEST_F(VehicleMotionTest, MovesAfterFiveSeconds) {
  speed(0, 30);
  EXPECT_FALSE(speed(5, 5));
  EXPECT_EQ(speed(5, 1), Announcement::vehicle_drove_off);
}

TEST_F(VehicleMotionTest, AStopAtALightIsNotStanding) {
  speed(50, 10);
  EXPECT_FALSE(speed(0, 15));
  EXPECT_FALSE(speed(50, 10)) << "it never stood";
}

TEST_F(VehicleMotionTest, BetweenBothItStaysWhatItWas) {
  speed(0, 15);
  EXPECT_EQ(speed(3, 10), Announcement::vehicle_stopped) << "a push is not moving";
}

}  // namespace
}  // namespace sumplog
