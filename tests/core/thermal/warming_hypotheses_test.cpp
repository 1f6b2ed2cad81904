#include "core/thermal/warming_hypotheses.h"

#include <gtest/gtest.h>

#include "core/thermal/forecast.h"

namespace sumplog {
namespace {

TEST(WarmingHypotheses, BeforeAReadingAreNoneAndStayNone) {
  WarmingHypotheses hypotheses;
  hypotheses.advance(1);
  hypotheses.branch(SensorCell{40, 1, Rounding::round}, 0.5, 0.1);
  hypotheses.take_coarse(SensorCell{40, 1, Rounding::round}, 40, 1);
  hypotheses.take_fine(40, 0.1);
  EXPECT_TRUE(hypotheses.all().empty());
  EXPECT_EQ(hypotheses.total(), 0);
  EXPECT_EQ(hypotheses.frozen(), 0);
  EXPECT_EQ(hypotheses.rate().mean, 0);
  EXPECT_EQ(hypotheses.rate().variance, 0);
}

TEST(Forecast, WithoutAHypothesisIsNone) {
  const PaceFilter pace;
  const auto forecast_of = [&](std::span<const Hypothesis> hypotheses) {
    return forecast({hypotheses, SensorCell{40, 1, Rounding::round}, 0, 1, 1, pace, 1, 0, false, {}, 0, 0});
  };
  EXPECT_FALSE(forecast_of({}));
  WarmingHypotheses some;
  some.restart(SensorCell{40, 1, Rounding::round});
  ASSERT_TRUE(forecast_of(some.all()));
  EXPECT_NEAR(forecast_of(some.all())->temperature_c, 40, 0.5);
}

}  // namespace
}  // namespace sumplog
