#include "core/thermal/line_fit.h"

#include <gtest/gtest.h>

#include <array>
#include <vector>

namespace sumplog {
namespace {

// NIST Statistical Reference Datasets, linear regression, data set Norris (y, x): ozone monitors.
constexpr std::array<LinePoint, 36> kNorris{{
    {0.2, 0.1},     {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2},    {226.5, 228.1},
    {666.3, 668.5}, {996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3},
    {0.6, 0.1},     {775.5, 778.1}, {666.9, 668.8}, {338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8},
    {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0}, {887.6, 888.8}, {120.2, 119.6}, {0.3, 0.3},
    {0.3, 0.6},     {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0}, {999.0, 998.5}, {779.0, 778.9},
    {11.1, 10.2},   {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {0.5, 0.2},
}};

TEST(LineFit, GivesTheCertifiedValuesOfNorris) {
  const FittedLine line = fit_line(kNorris);
  // Certified by NIST: B0, B1, residual sum of squares; B1's standard deviation squared is s^2 / Sxx.
  EXPECT_NEAR(line.at_zero, -0.262323073774029, 1e-11);
  EXPECT_NEAR(line.slope, 1.00211681802045, 1e-13);
  EXPECT_NEAR(line.squares_residual, 26.6173985294224, 1e-7);
  const double slope_sd = 0.429796848199937E-03;
  EXPECT_NEAR(line.squares_residual / 34 / line.squares_x, slope_sd * slope_sd, 1e-15);
}

TEST(LineFit, OfPointsOnALineLeavesNothing) {
  const FittedLine line = fit_line(std::vector<LinePoint>{{-90, 31}, {-30, 33}, {0, 34}});
  EXPECT_DOUBLE_EQ(line.slope, 1.0 / 30);
  EXPECT_DOUBLE_EQ(line.at_zero, 34);
  EXPECT_NEAR(line.squares_residual, 0, 1e-12);
}

TEST(LineFit, NeverLeavesANegativeSumOfSquares) {
  for (int i = 1; i < 1000; ++i) {
    const double far = 1e6 + i / 7.0;
    EXPECT_GE(fit_line(std::vector<LinePoint>{{0, far}, {1, far + 0.1}, {2, far + 0.2}}).squares_residual, 0);
  }
}

}  // namespace
}  // namespace sumplog
