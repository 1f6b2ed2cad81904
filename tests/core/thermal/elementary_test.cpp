#include "core/thermal/elementary.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <utility>

namespace sumplog {
namespace {

/// Distance in units in the last place of `reference`.
double ulps(double value, double reference) {
  const double size = std::abs(reference);
  const double ulp = std::nextafter(size, std::numeric_limits<double>::infinity()) - size;
  return std::abs(value - reference) / ulp;
}

// The other side of the checks is the C library, whose results are within one unit in the last place (glibc
// manual, "Errors in Math Functions").

TEST(Exponential, AgreesWithTheCLibraryToTwoUnitsInTheLastPlace) {
  std::mt19937_64 random(1);
  std::uniform_real_distribution<double> wide(-700, 700);
  std::uniform_real_distribution<double> narrow(-2, 2);
  for (int i = 0; i < 100000; ++i) {
    const double a = wide(random);
    ASSERT_LE(ulps(exp_of(a), std::exp(a)), 2) << a;
    const double b = narrow(random);
    ASSERT_LE(ulps(exp_of(b), std::exp(b)), 2) << b;
  }
}

TEST(Exponential, IsExactAtZeroAndBoundedFarOut) {
  EXPECT_EQ(exp_of(0), 1);
  EXPECT_EQ(exp_of(-0.0), 1);
  EXPECT_EQ(exp_of(-1e6), 0);
  EXPECT_EQ(exp_of(1e6), std::numeric_limits<double>::infinity());
  EXPECT_LE(ulps(exp_of(-708), std::exp(-708.0)), 2);
  EXPECT_LE(ulps(exp_of(709), std::exp(709.0)), 2);
}

TEST(Logarithm, AgreesWithTheCLibraryToTwoUnitsInTheLastPlace) {
  std::mt19937_64 random(2);
  std::uniform_real_distribution<double> exponent(-1000, 1000);
  std::uniform_real_distribution<double> near_one(0.5, 2);
  for (int i = 0; i < 100000; ++i) {
    const double a = std::exp2(exponent(random));
    ASSERT_LE(ulps(log_of(a), std::log(a)), 2) << a;
    const double b = near_one(random);
    ASSERT_LE(ulps(log_of(b), std::log(b)), 2) << b;
  }
}

TEST(Logarithm, OfOneIsZeroAndOfTheSmallestNumbersIsRight) {
  EXPECT_EQ(log_of(1), 0);
  for (const double x : {5e-324, 1e-310, 2.2250738585072014e-308, 1.7976931348623157e308})
    EXPECT_LE(ulps(log_of(x), std::log(x)), 2) << x;
}

TEST(StandardNormal, GivesTheTabledValues) {
  // Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.1: P(x) and Z(x).
  const std::pair<double, std::pair<double, double>> kTable[] = {
      {0.0, {0.500000000000000, 0.398942280401433}},
      {0.5, {0.691462461274013, 0.352065326764300}},
      {1.0, {0.841344746068543, 0.241970724519143}},
      {2.0, {0.977249868051821, 0.053990966513188}},
      {3.0, {0.998650101968370, 0.004431848411938}}};
  for (const auto& [x, values] : kTable) {
    EXPECT_NEAR(standard_normal(x).below, values.first, 5e-15) << x;
    EXPECT_NEAR(standard_normal(-x).below, 1 - values.first, 5e-15) << x;
    EXPECT_NEAR(standard_normal(x).density, values.second, 5e-15) << x;
  }
}

TEST(StandardNormal, AgreesWithTheCLibrarysErfcFarIntoTheTail) {
  for (double z = -30; z <= 30; z += 0.003) {
    const double reference = 0.5 * std::erfc(-z / std::sqrt(2.0));
    ASSERT_NEAR(standard_normal(z).below, reference, 1e-15) << z;
    ASSERT_NEAR(standard_normal(z).below, reference, 2e-13 * reference + 1e-300) << z;
  }
}

}  // namespace
}  // namespace sumplog
