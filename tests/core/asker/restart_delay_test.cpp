#include "core/asker/restart_delay.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

TEST(RestartDelay, GrowsWithEveryBusOffUpToAMinute) {
  RestartDelay delay;
  TimePoint now = at_micros(1'700'000'000'000'000);
  Duration last{};
  for (int i = 0; i < 12; ++i) {
    const TimePoint restart = delay.on_bus_off(now);
    EXPECT_GE(restart - now, last);
    EXPECT_LE(restart - now, 60s);
    if (i == 0) {
      EXPECT_EQ(restart - now, 1s);
    }
    last = restart - now;
    now = restart + 10ms;
  }
  EXPECT_EQ(last, 60s);
}

TEST(RestartDelay, BeginsAnewAfterTheLinkHasStoodForAMinute) {
  RestartDelay delay;
  TimePoint now = at_micros(1'700'000'000'000'000);
  for (int i = 0; i < 4; ++i) now = delay.on_bus_off(now);  // 1, 2, 4, 8 s
  EXPECT_EQ(delay.on_bus_off(now + 59s) - (now + 59s), 16s);
  now += 59s + 16s + 61s;
  EXPECT_EQ(delay.on_bus_off(now) - now, 1s);
}

}  // namespace
}  // namespace sumplog
