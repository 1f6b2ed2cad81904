#include "core/thermal/truncated_normal.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace sumplog {
namespace {

constexpr double kFar = 50;  // standard deviations

TEST(TruncatedNormal, AHalfHasTheMomentsOfTheHalfNormalDistribution) {
  // Half-normal distribution: mean √(2/π), variance 1 − 2/π.
  const Truncation upper = truncated(0, 1, 0, kFar);
  EXPECT_NEAR(upper.probability, 0.5, 1e-15);
  EXPECT_NEAR(upper.shift, std::sqrt(2 / std::numbers::pi), 1e-14);
  EXPECT_NEAR(1 - upper.reduction, 1 - 2 / std::numbers::pi, 1e-14);
  EXPECT_NEAR(truncated(0, 1, -kFar, 0).shift, -upper.shift, 1e-14);
}

TEST(TruncatedNormal, WithinOneAndTwoSigmaHasTheTabledVariance) {
  // Symmetric truncation: 1 − 2 a φ(a) / (2 Φ(a) − 1), with φ and Φ of Abramowitz and Stegun, table 26.1.
  EXPECT_NEAR(1 - truncated(0, 1, -1, 1).reduction, 1 - 2 * 0.241970724519143 / 0.682689492137086, 1e-13);
  EXPECT_NEAR(1 - truncated(0, 1, -2, 2).reduction, 1 - 4 * 0.053990966513188 / 0.954499736103642, 1e-13);
  EXPECT_NEAR(truncated(0, 1, -1, 1).shift, 0, 1e-15);
}

TEST(TruncatedNormal, AgreesWithNumericalIntegration) {
  // Simpson's rule over the cut density, with the C library's exponential.
  for (const double mean : {36.1, 36.9, 38.0}) {
    for (const double sd : {0.1, 0.3, 1.0}) {
      const double low = 36.5;
      const double high = 37.5;
      constexpr int kIntervals = 4000;
      double m0 = 0;
      double m1 = 0;
      double m2 = 0;
      for (int i = 0; i <= kIntervals; ++i) {
        const double x = low + (high - low) * i / kIntervals;
        const double z = (x - mean) / sd;
        const double weight = (i == 0 || i == kIntervals ? 1
                               : i % 2 == 1              ? 4
                                                         : 2) *
                              (high - low) / kIntervals / 3;
        const double density = weight * std::exp(-z * z / 2) / (sd * std::sqrt(2 * std::numbers::pi));
        m0 += density;
        m1 += density * z;
        m2 += density * z * z;
      }
      const Truncation cut = truncated(mean, sd, low, high);
      if (m0 < 1e-6) continue;
      EXPECT_NEAR(cut.probability, m0, 1e-9) << mean << ' ' << sd;
      EXPECT_NEAR(cut.shift, m1 / m0, 1e-5) << mean << ' ' << sd;
      EXPECT_NEAR(1 - cut.reduction, m2 / m0 - m1 * m1 / m0 / m0, 1e-5) << mean << ' ' << sd;
    }
  }
}

TEST(TruncatedNormal, FarOutsideItTakesTheNearEdgeAndKeepsAFifthOfTheVariance) {
  const Truncation above = truncated(30, 0.1, 35, 36);
  EXPECT_EQ(above.probability, kLeastProbability);
  EXPECT_NEAR(above.shift, 50 + 1.0 / 50, 1e-9);
  EXPECT_DOUBLE_EQ(above.reduction, 0.8);
  EXPECT_NEAR(truncated(40, 0.1, 35, 36).shift, -40 - 1.0 / 40, 1e-9);
}

TEST(TruncatedNormal, AWideIntervalSaysNothingNew) {
  const Truncation cut = truncated(36, 0.1, 30, 40);
  EXPECT_GE(cut.probability, kNothingNew);
  EXPECT_NEAR(cut.shift, 0, 1e-12);
  EXPECT_NEAR(cut.reduction, 0, 1e-12);
}

}  // namespace
}  // namespace sumplog
