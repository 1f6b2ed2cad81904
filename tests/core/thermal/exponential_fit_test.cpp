#include "core/thermal/exponential_fit.h"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace sumplog {
namespace {

using Samples = std::vector<CourseSample>;

/// y = b1 (1 − e^(−b2 x)): a course that starts at 0 for certain, and ends at b1.
CourseQuestion from_zero(const Samples& samples) {
  return {samples, KnownFigure{0, 0}, std::nullopt, std::nullopt};
}
/// What the certified standard deviations are made with: the residual one.
double residual_sd(const CourseFit& fit, double degrees_of_freedom) {
  return std::sqrt(fit.misfit / degrees_of_freedom);
}

// NIST/ITL StRD Misra1a, nonlinear least squares, lower level of difficulty: pressure, volume.
const Samples kMisra1a{{77.6, 10.07},  {114.9, 14.73}, {141.1, 17.94}, {190.8, 23.93}, {239.9, 29.61},
                       {289.0, 35.18}, {332.8, 40.02}, {378.4, 44.82}, {434.8, 50.76}, {477.3, 55.05},
                       {536.8, 61.01}, {593.1, 66.40}, {689.1, 75.47}, {760.0, 81.78}};
// NIST/ITL StRD BoxBOD, nonlinear least squares, higher level of difficulty: days, oxygen demand.
const Samples kBoxBod{{1, 109}, {2, 149}, {3, 149}, {5, 191}, {7, 213}, {10, 224}};

TEST(ExponentialFit, GivesTheCertifiedValuesOfMisra1a) {
  // A range around each of the published starting values of b2, 0.0001 and 0.0005: no start is needed here.
  for (const RateRange range : {RateRange{1e-6, 1e-2}, RateRange{5e-6, 5e-2}}) {
    const auto fit = fit_course(from_zero(kMisra1a), range);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->course.end, 2.3894212918E+02, 1e-10 * 2.3894212918E+02);
    EXPECT_NEAR(fit->course.rate, 5.5015643181E-04, 1e-10 * 5.5015643181E-04);
    EXPECT_NEAR(fit->misfit, 1.2455138894E-01, 1e-10 * 1.2455138894E-01);
    EXPECT_NEAR(residual_sd(*fit, 12), 1.0187876330E-01, 1e-10);
    EXPECT_NEAR(fit->course.rate * fit->log_rate_sd * residual_sd(*fit, 12), 7.2668688436E-06, 1e-13);
  }
}

TEST(ExponentialFit, GivesTheCertifiedValuesOfBoxBodAndNotItsFalseMinimum) {
  // From the first published start (1, 1) a search that walks downhill ends at b2 = 114.8 with 9771.5 (GSL 2.7.1). The
  // ranges reach far beyond it, around both published starts of b2: 1 and 0.75.
  for (const RateRange range : {RateRange{1e-3, 1e3}, RateRange{0.75e-2, 0.75e4}}) {
    const auto fit = fit_course(from_zero(kBoxBod), range);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->course.end, 2.1380940889E+02, 1e-10 * 2.1380940889E+02);
    EXPECT_NEAR(fit->course.rate, 5.4723748542E-01, 1e-10);
    EXPECT_NEAR(fit->misfit, 1.1680088766E+03, 1e-7);
    EXPECT_NEAR(fit->course.rate * fit->log_rate_sd * residual_sd(*fit, 4), 1.0455993237E-01, 1e-9);
  }
}

TEST(ExponentialFit, SaysNothingWhereOnlyTheFalseMinimumOfBoxBodIsInTheRange) {
  EXPECT_FALSE(fit_course(from_zero(kBoxBod), {50, 1000}));
}

Samples warm_up(bool rounded) {
  // Newton's law: from 20 towards 90 °C with 600 s, a minute apart.
  Samples samples;
  for (int i = 0; i <= 20; ++i) {
    const double t = 60.0 * i;
    const double c = 90 - 70 * std::exp(-t / 600);
    samples.push_back({t, rounded ? std::round(c) : c});
  }
  return samples;
}

TEST(ExponentialFit, FindsAnExactCourse) {
  const Samples samples = warm_up(false);
  const auto fit = fit_course({samples, {}, {}, {}}, {1e-5, 1e-1});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->course.start, 20, 1e-8);
  EXPECT_NEAR(fit->course.end, 90, 1e-8);
  EXPECT_NEAR(1 / fit->course.rate, 600, 1e-6);
  EXPECT_NEAR(fit->misfit, 0, 1e-12);
}

TEST(ExponentialFit, GivesWhatGslGivesForACourseInWholeDegrees) {
  // GSL 2.7.1, gsl_multifit_nlinear, on the same numbers.
  const Samples samples = warm_up(true);
  const auto fit = fit_course({samples, {}, {}, {}}, {1e-5, 1e-1});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->course.end, 89.940218, 1e-6);
  EXPECT_NEAR(fit->course.start, 20.145546, 1e-6);
  EXPECT_NEAR(1 / fit->course.rate, 597.357, 1e-3);
  EXPECT_NEAR(fit->misfit, 1.83788, 1e-5);
  EXPECT_NEAR(fit->log_rate_sd / fit->course.rate * residual_sd(*fit, 18), 9.47, 0.005);
}

TEST(ExponentialFit, SolvesTheTextbooksCooling) {
  // Stewart, Calculus, exponential decay, from memory: a drink of 72 °F in a refrigerator of 44 °F has 61 °F after half an
  // hour. After another half hour 54.3 °F; 50 °F after 92.6 minutes.
  const Samples drink{{0, 72}, {30, 61}};
  const auto fit = fit_course({drink, {}, KnownFigure{44, 0}, {}}, {1e-4, 1});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->course.at(60), 54.3, 0.05);
  EXPECT_NEAR(fit->course.time_at(50).value(), 92.6, 0.05);
  // OpenStax Calculus 2, 4.3, from memory: pizza of 350 °F, room of 75 °F, 340 °F after 5 minutes; 300 °F after about 27.
  const Samples pizza{{0, 350}, {5, 340}};
  const auto hot = fit_course({pizza, {}, KnownFigure{75, 0}, {}}, {1e-4, 1});
  ASSERT_TRUE(hot);
  EXPECT_NEAR(hot->course.time_at(300).value(), 27.09, 0.005);
  EXPECT_NEAR(hot->course.rate, 0.0074083, 1e-7);
}

TEST(ExponentialFit, WhatIsKnownWeighsAsItsStandardDeviationSays) {
  // Two samples and an end that is known to ± 2: the same as a third sample of the end itself, for ever later.
  const Samples two{{0, 80, 0.5}, {30, 65, 0.5}};
  const Samples three{{0, 80, 0.5}, {30, 65, 0.5}, {1e6, 20, 2}};
  const auto known = fit_at_rate({two, {}, KnownFigure{20, 2}, {}}, 0.01);
  const auto seen = fit_at_rate({three, {}, {}, {}}, 0.01);
  ASSERT_TRUE(known && seen);
  EXPECT_NEAR(known->course.start, seen->course.start, 1e-9);
  EXPECT_NEAR(known->course.end, seen->course.end, 1e-9);
  EXPECT_NEAR(known->misfit, seen->misfit, 1e-9);
  EXPECT_NEAR(known->end_variance, seen->end_variance, 1e-9);
}

TEST(ExponentialFit, AStartWeighsAsASampleOfTheBeginningAndAnExactEndIsHeld) {
  const Samples seen{{10, 74, 0.5}, {30, 64, 0.5}, {60, 53, 0.5}};
  Samples with_start = seen;
  with_start.push_back({0, 80, 2});
  for (const double end_sd : {0.0, 3.0}) {
    const auto known = fit_course({seen, KnownFigure{80, 2}, KnownFigure{20, end_sd}, {}}, {1e-4, 1});
    const auto sampled = fit_course({with_start, {}, KnownFigure{20, end_sd}, {}}, {1e-4, 1});
    ASSERT_TRUE(known && sampled);
    EXPECT_NEAR(known->course.rate, sampled->course.rate, 1e-9);
    EXPECT_NEAR(known->course.start, sampled->course.start, 1e-6);
    EXPECT_NEAR(known->misfit, sampled->misfit, 1e-9);
    if (end_sd == 0) {
      EXPECT_EQ(known->course.end, 20);
    }
  }
}

TEST(ExponentialFit, WhereBothFiguresAreExactTheRateAloneIsSought) {
  const Samples seen{{10, 74, 0.5}, {30, 64, 0.5}, {60, 53, 0.5}};
  const auto fit = fit_course({seen, KnownFigure{80, 0}, KnownFigure{20, 0}, {}}, {1e-4, 1});
  ASSERT_TRUE(fit);
  EXPECT_EQ(fit->course.start, 80);
  EXPECT_EQ(fit->course.end, 20);
  EXPECT_EQ(fit->start_variance, 0);
  EXPECT_EQ(fit->end_variance, 0);
  EXPECT_NEAR(fit->course.rate, 0.01, 0.001);  // from 60 above to 33 above in a minute: ln(60/33)/60
}

TEST(ExponentialFit, ARateAtTheEdgeOfTheRangeIsNoFind) {
  // Half of the way in 10 s: the rate is 0.069.
  const Samples seen{{0, 80}, {10, 50}, {20, 35}, {30, 27.5}};
  EXPECT_TRUE(fit_course({seen, {}, {}, {}}, {1e-3, 1}));
  EXPECT_FALSE(fit_course({seen, {}, {}, {}}, {1e-4, 1e-2}));
  EXPECT_FALSE(fit_course({seen, {}, {}, {}}, {0.2, 1}));
}

TEST(ExponentialFit, AKnownRateHoldsWhereSamplesSayNothing) {
  const Samples one{{0, 80, 0.5}};
  const auto fit = fit_course({one, {}, KnownFigure{20, 3}, KnownFigure{std::log(0.01), 0.4}}, {1e-4, 1});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->course.rate, 0.01, 1e-9);
  EXPECT_NEAR(fit->log_rate_sd, 0.4, 1e-9);
}

TEST(ExponentialFit, TooFewSamplesGiveNothing) {
  const Samples one{{0, 80}};
  const Samples same{{5, 80}, {5, 80}, {5, 80}};
  EXPECT_FALSE(fit_course({one, {}, {}, {}}, {1e-4, 1}));
  EXPECT_FALSE(fit_course({same, {}, {}, {}}, {1e-4, 1}));
  EXPECT_FALSE(fit_course({{}, {}, {}, {}}, {1e-4, 1}));
}

TEST(ExponentialFit, ACourseBetweenTwoFiguresThatAreTheSameHasNoRate) {
  for (const double value : {20.0, 36.6, 50.1, 77.7, 91.3}) {
    Samples samples;
    for (int i = 0; i < 9; ++i) samples.push_back({60.0 * i, value, 0.3});
    const CourseQuestion question{samples, KnownFigure{value, 0}, KnownFigure{value, 0}, std::nullopt};
    EXPECT_FALSE(fit_course(question, {1e-4, 1e-1})) << value;
  }
}

TEST(ExponentialFit, ARateAtWhichTheSamplesSayNothingIsNeverTaken) {
  // The faster, the better, until the square of what is left of the start is too small for a number.
  const Samples samples{{1, 100, 1e-140}, {1.01, 0, 1}, {1.02, 0, 1}, {1.03, 0, 1}};
  const CourseQuestion question{samples, std::nullopt, KnownFigure{0, 0}, std::nullopt};
  EXPECT_TRUE(fit_at_rate(question, 680));
  EXPECT_FALSE(fit_at_rate(question, 700));
  // A scan that passes the end of it at different places: the search from there ends before it, or finds nothing.
  const auto from = [&](double rate) { return fit_course(question, {rate / std::pow(1.15, 40), 1000}); };
  for (const double rate : {650.96, 655.07, 674.25}) {
    const auto fit = from(rate);
    ASSERT_TRUE(fit) << rate;
    EXPECT_LT(fit->course.rate, 700);
  }
  for (const double rate : {642.74, 645.48, 666.03}) EXPECT_FALSE(from(rate)) << rate;
}

TEST(ExponentialCourse, IsNeverBeyondItsEnd) {
  const ExponentialCourse course{80, 20, 0.01};
  EXPECT_FALSE(course.time_at(20));
  EXPECT_FALSE(course.time_at(15));
  EXPECT_NEAR(course.time_at(80).value(), 0, 1e-12);
  EXPECT_LT(course.time_at(85).value(), 0) << "it was there before";
  EXPECT_FALSE((ExponentialCourse{20, 20, 0.01}.time_at(20)));
}

TEST(ExponentialFit, ForetellsAWindowFromThreeStepsOfACourseWithoutNoise) {
  // Newton's law, from 20 towards 90 °C with 600 s: 35 °C at 144.697234 s, 45 °C at 265.099651 s (computed from the closed form).
  // The moments of the first three steps of 1 °C, and the start.
  Samples steps;
  for (const double c : {20.0, 21.0, 22.0, 23.0}) steps.push_back({600 * std::log(70 / (90 - c)), c, 1});
  const auto fit = fit_course({steps, std::nullopt, std::nullopt, std::nullopt}, {1e-5, 1e-1});
  ASSERT_TRUE(fit);
  const double now = steps.back().at;
  const std::vector<std::pair<double, double>> table{{35, 144.697234}, {45, 265.099651}};
  for (const auto& [target_c, reached_s] : table) {
    const auto at = fit->course.time_at(target_c);
    ASSERT_TRUE(at);
    EXPECT_NEAR(*at - now, reached_s - now, 0.02 * (reached_s - now));
  }
}

}  // namespace
}  // namespace sumplog
