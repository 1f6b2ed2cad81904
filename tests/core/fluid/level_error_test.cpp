#include "core/fluid/level_error.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

constexpr TemperatureWindow kWindow{{35}, {45}};

TEST(LevelError, AboveTheWindowTooLittleStaysIn) {
  // Common practice, no source: 9 L, 5 °C late: about 35 mL.
  const auto error = level_error(9, {50}, kWindow, {});
  ASSERT_TRUE(error);
  EXPECT_EQ(error->edge, Celsius{45});
  EXPECT_NEAR(error->short_ml[1], 35, 1);
  EXPECT_LT(error->short_ml[0], error->short_ml[1]);
  EXPECT_GT(error->short_ml[2], error->short_ml[1]);
}

TEST(LevelError, FollowsTheVolumeCorrectionOfMpms) {
  // API MPMS 11.1, 850 kg/m³, worked with another program: 10 L at 39 °C are 84 mL more at 50 °C; 7.6 mL for each degree
  // at 40 °C.
  const auto error = level_error(10, {50}, {{37}, {39}}, DensityAt15{850});
  ASSERT_TRUE(error);
  EXPECT_NEAR(error->short_ml[1], 84, 0.7);
  EXPECT_NEAR(error->ml_per_degree, 7.6, 0.05);
  EXPECT_NEAR(error->short_ml[2], error->short_ml[1], 1e-9) << "a density that is known has no range";
}

TEST(LevelError, BelowTheWindowTooMuchStaysIn) {
  const auto error = level_error(10, {30}, kWindow, {});
  ASSERT_TRUE(error);
  EXPECT_EQ(error->edge, Celsius{35});
  EXPECT_NEAR(error->short_ml[1], -38, 1);
  EXPECT_LT(error->short_ml[0], error->short_ml[2]);
}

TEST(LevelError, TheCaseGrowsToo) {
  // Ten litres in aluminium grow by about 0.7 mL less a degree (three times 23e-6 a degree, from memory).
  const auto error = level_error(10, {46}, kWindow, DensityAt15{850});
  ASSERT_TRUE(error);
  EXPECT_NEAR(error->short_ml[1] - error->short_ml[0], 0.69, 0.01);
}

TEST(LevelError, ALighterFluidGrowsMore) {
  // API MPMS 11.1: 820…880 kg/m³ are 7.9…7.3 mL for each degree of 10 L at 40 °C.
  EXPECT_NEAR(level_error(10, {41}, {{38}, {40}}, DensityAt15{820})->ml_per_degree, 7.9, 0.05);
  EXPECT_NEAR(level_error(10, {41}, {{38}, {40}}, DensityAt15{880})->ml_per_degree, 7.3, 0.05);
}

TEST(LevelError, InsideTheWindowThereIsNone) {
  EXPECT_FALSE(level_error(10, {35}, kWindow, {}));
  EXPECT_FALSE(level_error(10, {40}, kWindow, {}));
  EXPECT_FALSE(level_error(10, {45}, kWindow, {}));
}

TEST(LevelError, OutsideOfTheFormulasLimitsNothingIsSaid) {
  EXPECT_FALSE(level_error(10, {151}, kWindow, {}));
  EXPECT_FALSE(level_error(10, {50}, kWindow, DensityAt15{700}));
}

}  // namespace
}  // namespace sumplog
