#include "core/job/recent_readings.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1700000000000000);

TEST(RecentReadings, TellWhatTheFluidWasThen) {
  RecentReadings recent;
  for (int i = 0; i < 100; ++i) recent.add(kStart + i * 1s, 30 + i / 10, 3s);
  EXPECT_EQ(recent.at(kStart), 30);
  EXPECT_EQ(recent.at(kStart + 55s), 35);
  EXPECT_EQ(recent.at(kStart + 99s), 39);
}

TEST(RecentReadings, AHoleHasNoTemperature) {
  RecentReadings recent;
  recent.add(kStart, 30, 3s);
  recent.add(kStart + 20s, 31, 3s);
  EXPECT_EQ(recent.at(kStart + 3s), 30);
  EXPECT_FALSE(recent.at(kStart + 4s));
  EXPECT_FALSE(recent.at(kStart + 24s));
  EXPECT_FALSE(recent.at(kStart - 1s));
}

TEST(RecentReadings, TenMinutesAreKeptAndNotMuchMore) {
  RecentReadings recent;
  for (int i = 0; i < 3600; ++i) recent.add(kStart + i * 500ms, 30 + i % 2, 3s);
  const TimePoint now = kStart + 3599 * 500ms;
  EXPECT_TRUE(recent.at(now - 10min));
  EXPECT_FALSE(recent.at(now - 12min));
}

TEST(RecentReadings, TheSameValueThatIsSaidOfAnEarlierMomentStandsThere) {
  RecentReadings recent;
  recent.add(kStart, 30, 3s);
  recent.add(kStart - 60s, 30, 3s);
  EXPECT_EQ(recent.at(kStart - 59s), 30);
  EXPECT_EQ(recent.at(kStart + 3s), 30);
  EXPECT_FALSE(recent.at(kStart - 30s));
}

}  // namespace
}  // namespace sumplog
