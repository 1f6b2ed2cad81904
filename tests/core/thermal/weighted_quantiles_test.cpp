#include "core/thermal/weighted_quantiles.h"

#include <gtest/gtest.h>

#include <array>
#include <vector>

namespace sumplog {
namespace {

TEST(WeightedQuantiles, OfEqualWeightsAreTheOrderStatistics) {
  std::vector<WeightedValue> hundred;
  for (int i = 100; i > 0; --i) hundred.push_back({static_cast<double>(i), 0.3});
  const auto q = quantiles(hundred, 0);
  ASSERT_TRUE(q);
  EXPECT_EQ(q->p05, 5);
  EXPECT_EQ(q->p10, 10);
  EXPECT_EQ(q->p50, 50);
  EXPECT_EQ(q->p90, 90);
}

TEST(WeightedQuantiles, FollowTheWeight) {
  std::array<WeightedValue, 3> values{{{1, 0.6}, {2, 0.25}, {3, 0.15}}};
  const auto q = quantiles(values, 0);
  EXPECT_EQ(q->p50, 1);
  EXPECT_EQ(q->p90, 3);
}

TEST(WeightedQuantiles, NeverLiesAboveAllValues) {
  std::array<WeightedValue, 2> values{{{1, 0.2}, {2, 0.4}}};
  const auto q = quantiles(values, 0.4);
  EXPECT_EQ(q->p10, 1);
  EXPECT_EQ(q->p50, 2);
  EXPECT_FALSE(q->p90);
  const auto all = quantiles({}, 1);
  ASSERT_TRUE(all);
  EXPECT_FALSE(all->p05);
}

TEST(WeightedQuantiles, OfNoWeightAreNothing) {
  EXPECT_FALSE(quantiles({}, 0));
  std::array<WeightedValue, 1> weightless{{{1, 0}}};
  EXPECT_FALSE(quantiles(weightless, 0));
}

}  // namespace
}  // namespace sumplog
