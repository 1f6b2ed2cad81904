#include "app/followed_time.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kAsked = at_micros(5'000'000);

TEST(FollowedTime, GoesOnFromWhenItWasAskedFor) {
  FollowedTime time;
  time.set(100, kAsked);
  EXPECT_EQ(time.now_s(kAsked + 3s), 103);
}

TEST(FollowedTime, IsNeverBeforeALineThatCame) {
  FollowedTime time;
  time.set(100, kAsked);
  time.not_before(160, kAsked + 3s);
  EXPECT_EQ(time.now_s(kAsked + 3s), 160);
  EXPECT_EQ(time.now_s(kAsked + 5s), 162) << "what came last is two seconds old, not none";
  time.not_before(150, kAsked + 5s);
  EXPECT_EQ(time.now_s(kAsked + 5s), 162) << "an older line takes nothing back";
}

}  // namespace
}  // namespace sumplog
