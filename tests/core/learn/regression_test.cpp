#include "core/learn/regression.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

// y = 3 + 2 a - 0.5 b, without a rest.
TEST(Regression, FindsTheFactorsOfAnExactSum) {
  const std::vector<double> a{0, 1, 2, 3, 4, 5}, b{1, 0, 4, 2, 7, 1};
  std::vector<double> y;
  for (std::size_t i = 0; i < a.size(); ++i) y.push_back(3 + 2 * a[i] - 0.5 * b[i]);
  Regression regression(y);
  regression.add(a);
  EXPECT_NEAR(regression.add(b), -0.5, 1e-12) << "the last factor is that of the whole fit";
  EXPECT_NEAR(regression.left(), 0, 1e-12);
}

TEST(Regression, WhatSaysNothingNewHasNoFactor) {
  Regression regression({1, 2, 4, 8});
  regression.add({0, 1, 2, 3});
  const double left = regression.left();
  EXPECT_EQ(regression.add({5, 7, 9, 11}), 0) << "a straight line once more";
  EXPECT_EQ(regression.add({4, 4, 4, 4}), 0) << "a constant";
  EXPECT_EQ(regression.left(), left);
}

// Worked by hand: the line through these four has the slope 1.4, and leaves 4.2.
TEST(Regression, LeavesTheSumOfSquaresThatALineLeaves) {
  Regression regression({6, 5, 7, 10});
  EXPECT_NEAR(regression.add({1, 2, 3, 4}), 1.4, 1e-12);
  EXPECT_NEAR(regression.left(), 4.2, 1e-12);
}

}  // namespace
}  // namespace sumplog
