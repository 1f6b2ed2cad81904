#include "io/side_by_side.h"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <numeric>
#include <stdexcept>

namespace sumplog {
namespace {

TEST(SideBySide, GivesEveryResultInTheOrderOfTheInputs) {
  std::vector<int> inputs(100);
  std::iota(inputs.begin(), inputs.end(), 0);
  std::vector<int> results;
  // Early ones take longest: what is ready first must wait for its turn.
  side_by_side(
      inputs,
      [](int n) {
        std::this_thread::sleep_for(std::chrono::microseconds(100 * (10 - n % 10)));
        return 2 * n;
      },
      [&](int result) {
        results.push_back(result);
        return true;
      });
  ASSERT_EQ(results.size(), inputs.size());
  for (int n = 0; n < 100; ++n) EXPECT_EQ(results[static_cast<std::size_t>(n)], 2 * n);
}

TEST(SideBySide, DoesNothingForNoInput) {
  side_by_side(
      std::vector<int>{}, [](int n) { return n; },
      [](int) -> bool { throw std::logic_error("nothing was given"); });
}

TEST(SideBySide, WhatTheWorkThrowsComesOut) {
  const std::vector<int> inputs{1, 2, 3, 4};
  const auto work = [](int n) {
    if (n == 3) throw std::runtime_error("three");
    return n;
  };
  EXPECT_THROW(side_by_side(inputs, work, [](int) { return true; }), std::runtime_error);
}

TEST(SideBySide, OneAtATimeIsOneAtATime) {
  std::vector<int> inputs(50);
  std::atomic<int> at_work = 0;
  std::atomic<int> most = 0;
  const auto work = [&](int) {
    most = std::max(most.load(), ++at_work);
    std::this_thread::sleep_for(std::chrono::microseconds(50));
    return --at_work;
  };
  side_by_side(
      inputs, work, [](int) { return true; }, 1);
  EXPECT_EQ(most, 1);
}

TEST(SideBySide, BeginsNothingNewOnceNoMoreIsWanted) {
  std::vector<int> inputs(1000);
  std::atomic<int> begun = 0;
  int taken = 0;
  const auto work = [&](int) { return ++begun; };
  side_by_side(inputs, work, [&](int) { return ++taken < 3; });
  EXPECT_EQ(taken, 3);
  const int now = begun;
  EXPECT_LT(now, 1000);
  std::this_thread::sleep_for(std::chrono::milliseconds(20));
  EXPECT_EQ(begun, now) << "nothing goes on behind the call";
}

}  // namespace
}  // namespace sumplog
