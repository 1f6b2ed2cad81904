#include "app/side_by_side.h"

#include <gtest/gtest.h>

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
      [&](int result) { results.push_back(result); });
  ASSERT_EQ(results.size(), inputs.size());
  for (int n = 0; n < 100; ++n) EXPECT_EQ(results[static_cast<std::size_t>(n)], 2 * n);
}

TEST(SideBySide, DoesNothingForNoInput) {
  side_by_side(
      std::vector<int>{}, [](int n) { return n; }, [](int) { FAIL(); });
}

TEST(SideBySide, WhatTheWorkThrowsComesOut) {
  const std::vector<int> inputs{1, 2, 3, 4};
  const auto work = [](int n) {
    if (n == 3) throw std::runtime_error("three");
    return n;
  };
  EXPECT_THROW(side_by_side(inputs, work, [](int) {}), std::runtime_error);
}

}  // namespace
}  // namespace sumplog
