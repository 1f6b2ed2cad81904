#include "core/thermal/temperature.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

template <class A, class B>
concept Adds = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Converts = std::is_convertible_v<A, B>;

static_assert(!Adds<Celsius, Celsius>, "two points on a scale do not add");
static_assert(Adds<Celsius, CelsiusDifference>);
static_assert(!Adds<Celsius, CelsiusPerMinute>);
static_assert(!Converts<double, Celsius> && !Converts<Celsius, double>);
static_assert(!Converts<CelsiusDifference, Celsius> && !Converts<Celsius, CelsiusDifference>);

TEST(Temperature, TheDifferenceOfTwoPointsIsADifference) {
  EXPECT_EQ((Celsius{45} - Celsius{35}).value, 10);
  EXPECT_EQ((Celsius{35} + CelsiusDifference{10}).value, 45);
  EXPECT_EQ((Celsius{35} - CelsiusDifference{10}).value, 25);
  EXPECT_LT(Celsius{-40}, Celsius{0});
}

TEST(Temperature, PointsAndDifferencesConvertDifferently) {
  // Definition of the Fahrenheit scale: water freezes at 32 and boils at 212; both scales meet at -40.
  EXPECT_DOUBLE_EQ(fahrenheit(Celsius{0}), 32);
  EXPECT_DOUBLE_EQ(fahrenheit(Celsius{100}), 212);
  EXPECT_DOUBLE_EQ(fahrenheit(Celsius{-40}), -40);
  EXPECT_DOUBLE_EQ(fahrenheit(CelsiusDifference{10}), 18);
  EXPECT_DOUBLE_EQ(fahrenheit(CelsiusPerMinute{5}), 9);
  EXPECT_DOUBLE_EQ(from_fahrenheit(104).value, 40);
}

}  // namespace
}  // namespace sumplog
