#include "core/thermal/newton_course.h"

#include <gtest/gtest.h>

#include <cmath>
#include <utility>

namespace sumplog {
namespace {

/// T(t) = Tinf + (T0 − Tinf) exp(−t / tau), seen at its beginning.
NewtonCourse course(double t0, double tinf, double tau_s) {
  return {t0, (tinf - t0) / tau_s, 1 / tau_s};
}

TEST(NewtonCourse, ReachesATemperatureWhenTheClosedFormSays) {
  // Tinf 90, T0 20 °C, tau 600 s: t = tau ln((Tinf − T0) / (Tinf − T)).
  const std::pair<double, double> kTable[] = {{30, 92.490408},  {35, 144.697234}, {40, 201.883342},
                                              {45, 265.099651}, {50, 335.769473}, {60, 508.378716},
                                              {80, 1167.546089}};
  for (const auto& [t_c, seconds] : kTable)
    EXPECT_NEAR(course(20, 90, 600).time_to(t_c).value(), seconds, 1e-6) << t_c;
}

TEST(NewtonCourse, SolvesTheExercisesOfTextbooks) {
  // Stewart, Calculus: a drink of 72 °F in a refrigerator of 44 °F has 61 °F after 30 min, 50 °F after 92.6 min.
  const double tau_drink = 30 * 60 / std::log((72.0 - 44) / (61 - 44));
  EXPECT_NEAR(course(72, 44, tau_drink).time_to(50).value() / 60, 92.6, 0.05);
  // OpenStax Calculus 2, 4.3: a pizza of 350 °F in a room of 75 °F has 340 °F after 5 min, 300 °F after 27.1 min.
  const double tau_pizza = 5 * 60 / std::log((350.0 - 75) / (340 - 75));
  EXPECT_NEAR(course(350, 75, tau_pizza).time_to(300).value() / 60, 27.1, 0.05);
  // Boyce and DiPrima: coffee of 200 °F in a room of 70 °F has 190 °F after 1 min, 150 °F after 6.07 min.
  const double tau_coffee = 60 / std::log((200.0 - 70) / (190 - 70));
  EXPECT_NEAR(course(200, 70, tau_coffee).time_to(150).value() / 60, 6.07, 0.005);
}

TEST(NewtonCourse, NeverReachesWhatLiesBehindItOrBeyondItsEnd) {
  EXPECT_FALSE(course(20, 90, 600).time_to(19));
  EXPECT_FALSE(course(20, 90, 600).time_to(90));
  EXPECT_FALSE(course(20, 90, 600).time_to(95));
  EXPECT_FALSE((NewtonCourse{20, 0, 1e-3}.time_to(21)));
  EXPECT_EQ(course(20, 90, 600).time_to(20), 0.0);
}

TEST(NewtonCourse, IsNearlyStraightOverAShortWay) {
  // Distance by rate, to the first order of k d / r.
  EXPECT_NEAR((NewtonCourse{30, 0.05, 1e-3}.time_to(30.001).value()), 0.02, 1e-6);
}

TEST(Visit, OfTheWindowOfTheTableLastsTwoMinutes) {
  // The same warm-up: 35…45 °C starts after 144.697234 s and lasts 120.402417 s.
  const Visit v = visit(course(20, 90, 600), {{35}, {45}});
  EXPECT_NEAR(v.enter_s.value(), 144.697234, 1e-6);
  EXPECT_NEAR(v.stay_s.value(), 120.402417, 1e-6);
}

TEST(Visit, InsideIsWhatIsLeftInTheDirectionOfTheCourse) {
  EXPECT_EQ(visit(course(40, 90, 600), {{35}, {45}}).enter_s, 0.0);
  EXPECT_NEAR(visit(course(40, 90, 600), {{35}, {45}}).stay_s.value(), 265.099651 - 201.883342, 1e-5);
  EXPECT_NEAR(visit(course(40, 10, 600), {{35}, {45}}).stay_s.value(), 600 * std::log(30.0 / 25), 1e-9);
  EXPECT_FALSE((visit({40, 0, 1e-3}, {{35}, {45}}).stay_s)) << "stands still: for ever";
  EXPECT_FALSE((visit({35, 0, 1e-3}, {{35}, {45}}).stay_s)) << "also on the edge";
  for (const double edge_c : {35.0, 45.0})
    EXPECT_EQ(visit(course(edge_c, 90, 600), {{35}, {45}}).enter_s, 0.0) << "the edges belong to it";
}

TEST(Visit, FromAboveBeginsAtTheHighEdge) {
  const Visit v = visit(course(60, 10, 600), {{35}, {45}});
  EXPECT_NEAR(v.enter_s.value(), 600 * std::log(50.0 / 35), 1e-9);
  EXPECT_NEAR(v.stay_s.value(), 600 * std::log(35.0 / 25), 1e-9);
}

TEST(Visit, MayEndNeverOrNeverBegin) {
  const Visit settles = visit(course(20, 40, 600), {{35}, {45}});
  EXPECT_TRUE(settles.enter_s);
  EXPECT_FALSE(settles.stay_s);
  const Visit away = visit(course(30, 10, 600), {{35}, {45}});
  EXPECT_FALSE(away.enter_s || away.stay_s);
}

}  // namespace
}  // namespace sumplog
