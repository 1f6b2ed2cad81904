#include "core/asker/slow_change.h"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <functional>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;

/// An answer every three seconds for two minutes, as a function of the seconds.
SlowChange watched(const std::function<Bytes(int)>& answer) {
  SlowChange change;
  for (int s = 0; s < 120; s += 3) change.on_payload(answer(s), at_micros(0) + std::chrono::seconds{s});
  return change;
}

/// 18 °C, and five degrees more each minute.
double warming_c(int s) {
  return 18 + 5.0 * s / 60;
}
Bytes pair_of(double raw) {
  const int value = static_cast<int>(std::lround(raw));
  return {static_cast<std::uint8_t>(value >> 8), static_cast<std::uint8_t>(value)};
}

TEST(SlowChangeTest, AWarmingFluidIsSlowInEveryUsualForm) {
  EXPECT_TRUE(
      watched([](int s) { return Bytes{static_cast<std::uint8_t>(std::lround(warming_c(s)) + 40)}; }).slow());
  EXPECT_TRUE(watched([](int s) {
                return Bytes{static_cast<std::uint8_t>(std::lround(2 * (warming_c(s) + 40)))};
              }).slow());
  EXPECT_TRUE(watched([](int s) { return pair_of(10 * (warming_c(s) + 40)); }).slow());
  EXPECT_TRUE(watched([](int s) { return pair_of(16 * warming_c(s)); }).slow());
  EXPECT_TRUE(watched([](int s) { return pair_of(32 * (warming_c(s) + 273)); }).slow());
  EXPECT_TRUE(watched([](int s) { return pair_of(100 * (warming_c(s) + 40)); }).slow());
  EXPECT_TRUE(watched([](int s) { return pair_of(256 * warming_c(s)); }).slow());
  EXPECT_TRUE(watched([](int s) {
                const Bytes big = pair_of(32 * (warming_c(s) + 273));
                return Bytes{0x11, big[1], big[0], 0x22};
              }).slow())
      << "low byte first, between others";
}

TEST(SlowChangeTest, AcrossZeroASignedByteMovesByOne) {
  EXPECT_TRUE(
      watched([](int s) { return Bytes{static_cast<std::uint8_t>(std::lround(warming_c(s) - 22))}; }).slow());
}

TEST(SlowChangeTest, WhatStandsStillHasNotChangedAndIsNotSlow) {
  const SlowChange still = watched([](int) { return Bytes{1, 2, 3}; });
  EXPECT_FALSE(still.changed());
  EXPECT_FALSE(still.slow());
}

TEST(SlowChangeTest, WhatJumpsAboutHasChangedAndIsNotSlow) {
  const SlowChange noise = watched([](int s) { return Bytes{static_cast<std::uint8_t>(s * 97 % 251)}; });
  EXPECT_TRUE(noise.changed());
  EXPECT_FALSE(noise.slow());
  const SlowChange flag =
      watched([](int s) { return Bytes{static_cast<std::uint8_t>(s % 2 == 0 ? 0x80 : 0)}; });
  EXPECT_FALSE(flag.slow());
  const SlowChange counter = watched([](int s) { return Bytes{static_cast<std::uint8_t>(s * 10)}; });
  EXPECT_FALSE(counter.slow());
}

TEST(SlowChangeTest, OneJumpIsForgivenAfterFourSmallSteps) {
  const auto with_glitch = [](int s) {
    const bool glitch = s == 60;
    return Bytes{glitch ? std::uint8_t{0xFF} : static_cast<std::uint8_t>(std::lround(warming_c(s)) + 40)};
  };
  EXPECT_TRUE(watched(with_glitch).slow());
}

TEST(SlowChangeTest, TheLongerTheTimeBetweenTheLargerAStepMayBe) {
  SlowChange soon;
  soon.on_payload(Bytes{10}, at_micros(0));
  soon.on_payload(Bytes{18}, at_micros(0) + 3s);
  EXPECT_FALSE(soon.slow());
  SlowChange later;
  later.on_payload(Bytes{10}, at_micros(0));
  later.on_payload(Bytes{18}, at_micros(0) + 20s);
  EXPECT_TRUE(later.slow());
}

TEST(SlowChangeTest, AnotherLengthIsAChangeAndNoStep) {
  SlowChange change;
  change.on_payload(Bytes{10}, at_micros(0));
  change.on_payload(Bytes{11, 0}, at_micros(0) + 3s);
  EXPECT_TRUE(change.changed());
  change.on_payload(Bytes{11, 0}, at_micros(0) + 2h);
  EXPECT_TRUE(change.changed()) << "it stays said";
  EXPECT_FALSE(change.slow());
}

TEST(SlowChangeTest, ALengthThatComesBackIsNotAStepEither) {
  SlowChange change;
  change.on_payload(Bytes{}, at_micros(0));
  change.on_payload(Bytes{10}, at_micros(0) + 3s);
  change.on_payload(Bytes{10}, at_micros(0) + 6s);
  EXPECT_FALSE(change.slow());
  EXPECT_FALSE(change.changed()) << "what had no byte had nothing to change";
}

TEST(SlowChangeTest, OverMoreThanAnHourNoStepIsJudged) {
  SlowChange change;
  change.on_payload(Bytes{10}, at_micros(0));
  change.on_payload(Bytes{11}, at_micros(0) + 61min);
  EXPECT_FALSE(change.slow());
  EXPECT_FALSE(change.changed());
  change.on_payload(Bytes{12}, at_micros(0) + 62min);
  EXPECT_TRUE(change.slow()) << "from there on it is watched again";
}

TEST(SlowChangeTest, AnEmptyAnswerIsTaken) {
  SlowChange change;
  change.on_payload(Bytes{}, at_micros(0));
  change.on_payload(Bytes{}, at_micros(0) + 3s);
  EXPECT_FALSE(change.changed());
  EXPECT_FALSE(change.slow());
}

TEST(SlowChangeTest, WhatIsFarBehindInALongAnswerIsNotWatched) {
  SlowChange change;
  Bytes answer(4000, 0);
  change.on_payload(answer, at_micros(0));
  answer[3000] = 1;
  change.on_payload(answer, at_micros(0) + 3s);
  EXPECT_FALSE(change.slow());
}

}  // namespace
}  // namespace sumplog
