#include "core/fluid/exchange_models.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using Mixing = FluidContents::Mixing;

FluidContents mixed(double fill_l = 10, double dead_l = 0) {
  return {Mixing::well_mixed, fill_l, dead_l};
}
FluidContents ideal(double fill_l = 10, double dead_l = 0) {
  return {Mixing::ideal_displacement, fill_l, dead_l};
}
double new_after(FluidContents contents, double litres) {
  contents.exchange(litres);
  return contents.share_new();
}

TEST(ExchangeModels, WellMixedOldFluidFadesExponentially) {
  // Old fluid left is exp(−V/V0) (Levenspiel, Chemical Reaction Engineering, from memory; values from another program).
  EXPECT_NEAR(new_after(mixed(), 5), 1 - 0.606531, 1e-6);
  EXPECT_NEAR(new_after(mixed(), 10), 1 - 0.367879, 1e-6);
  EXPECT_NEAR(new_after(mixed(), 15), 1 - 0.223130, 1e-6);
  EXPECT_NEAR(new_after(mixed(), 20), 1 - 0.135335, 1e-6);
  EXPECT_NEAR(new_after(mixed(), 30), 1 - 0.049787, 1e-6);
}

TEST(ExchangeModels, IdealDisplacementPushesTheOldOut) {
  EXPECT_NEAR(new_after(ideal(), 5), 0.5, 1e-12);
  EXPECT_NEAR(new_after(ideal(), 9.9), 0.99, 1e-12);
}

TEST(ExchangeModels, WhatIsEmptyCanBeDrainedAgain) {
  for (FluidContents contents : {mixed(10, 1), ideal(10, 1)}) {
    contents.drain(20);
    contents.drain(1);
    contents.fill(9);
    EXPECT_NEAR(contents.share_new(), 0.9, 1e-12);
  }
}

TEST(ExchangeModels, AnyNumberOfTanksInARowLiesBetweenTheTwo) {
  // Mean old fluid inside N well-mixed tanks in series: mean over k = 1…N of exp(−Nθ) Σ_{i<k} (Nθ)^i / i!, from another program.
  struct Row {
    double theta;
    double old_inside[4];  // N = 2, 3, 5, 10
  };
  for (const Row& row :
       {Row{0.5, {0.551819, 0.529934, 0.512390, 0.502219}}, Row{1, {0.270671, 0.224042, 0.175467, 0.125110}},
        Row{1.5, {0.124468, 0.081929, 0.043344, 0.013684}}, Row{2, {0.054947, 0.027266, 0.008581, 0.000821}},
        Row{3, {0.009915, 0.002530, 0.000223, 0.000001}}})
    for (const double old : row.old_inside) {
      EXPECT_LE(new_after(mixed(), 10 * row.theta), 1 - old) << row.theta;
      EXPECT_GE(new_after(ideal(), 10 * row.theta), std::min(1 - old, kMostNew)) << row.theta;
    }
}

TEST(ExchangeModels, DrainingAndFillingAgainLeavesOneMinusTheShareEachTime) {
  // (1 − f)^n; values from another program. A forum worked out the same for 40 %: 60, 36, 22, 13, 8 (common practice, no source).
  FluidContents contents = mixed();
  for (const double old : {0.6, 0.36, 0.216, 0.1296, 0.07776}) {
    contents.drain(4);
    EXPECT_EQ(contents.fill(4), 0);
    EXPECT_NEAR(contents.share_new(), 1 - old, 1e-12);
  }
  FluidContents other = mixed();
  for (int i = 0; i < 4; ++i) {
    other.drain(4.5);
    (void)other.fill(4.5);
  }
  EXPECT_NEAR(other.share_new(), 1 - 0.091506, 1e-6);
}

TEST(ExchangeModels, TheTradesTableOfOldFluidLeft) {
  // Own estimate of the trade page, in whole percent: drained before · litres through, in fills.
  const auto old_percent = [](double drained_l, double through_l) {
    FluidContents contents = mixed();
    contents.drain(drained_l);
    (void)contents.fill(drained_l);
    contents.exchange(through_l);
    return 100 * (1 - contents.share_new());
  };
  EXPECT_NEAR(old_percent(0, 10), 37, 0.5);
  EXPECT_NEAR(old_percent(4, 15), 13, 0.5);
  EXPECT_NEAR(old_percent(5, 20), 7, 0.5);
}

TEST(ExchangeModels, ADeadVolumeStaysOld) {
  // old = v + (1 − v) · model
  EXPECT_NEAR(new_after(mixed(10, 2), 8), 0.8 * (1 - 0.367879), 1e-6);
  EXPECT_NEAR(new_after(ideal(10, 2), 100), 0.8, 1e-12);
  EXPECT_NEAR(new_after(mixed(10, 2), 1e6), 0.8, 1e-12);
}

TEST(ExchangeModels, NeverSayThatAllIsNew) {
  EXPECT_EQ(new_after(ideal(), 1000), kMostNew);
  EXPECT_EQ(new_after(mixed(), 1000), kMostNew);
  EXPECT_LT(kMostNew, 1);
}

TEST(ExchangeModels, TellHowMuchMoreReachesAShare) {
  // Well mixed V/V0 = 2.302585 leaves 10 %, 4.605170 leaves 1 %.
  EXPECT_NEAR(mixed().more_for(0.9).value(), 23.02585, 1e-5);
  EXPECT_NEAR(mixed().more_for(0.99).value(), 46.05170, 1e-5);
  EXPECT_NEAR(ideal().more_for(0.9).value(), 9, 1e-12);
  for (FluidContents contents : {mixed(10, 1), ideal(10, 1)}) {
    contents.exchange(3);
    const double more_l = contents.more_for(0.8).value();
    contents.exchange(more_l);
    EXPECT_NEAR(contents.share_new(), 0.8, 1e-12);
    EXPECT_EQ(contents.more_for(0.5), 0.0) << "more than that is new already";
  }
}

TEST(ExchangeModels, ADrainedBoxIsFilledBeforeMoreGoesThrough) {
  FluidContents contents = mixed();
  contents.drain(4);
  const double more_l = contents.more_for(0.9).value();
  (void)contents.fill(4);
  EXPECT_NEAR(contents.more_for(0.9).value(), more_l, 1e-12);
  contents.exchange(more_l);
  EXPECT_NEAR(contents.share_new(), 0.9, 1e-12);
}

TEST(ExchangeModels, AShareThatTheDeadVolumeForbidsIsNeverReached) {
  EXPECT_FALSE(mixed(10, 1).more_for(0.95));
  EXPECT_FALSE(ideal(10, 1).more_for(0.95));
  EXPECT_FALSE(mixed(10, 1).more_for(0.9)) << "only after endless fluid";
  EXPECT_TRUE(mixed(10, 1).more_for(0.89));
  EXPECT_FALSE(mixed().more_for(1));
  EXPECT_FALSE(ideal().more_for(1)) << "nobody can show it";
}

TEST(ExchangeModels, NoMoreRunsOutThanIsInAndNothingBeyondTheFillCounts) {
  FluidContents contents = mixed(10, 2);
  contents.drain(50);
  EXPECT_EQ(contents.share_new(), 0) << "what is left never leaves";
  contents.exchange(3);
  EXPECT_NEAR(contents.fill(9), 1, 1e-12);
  EXPECT_NEAR(contents.share_new(), 0.8, 1e-12);
  FluidContents full = mixed();
  EXPECT_NEAR(full.fill(4.5), 4.5, 1e-12) << "nobody knows what it drove out";
  EXPECT_EQ(full.share_new(), 0);
}

TEST(ExchangeModels, AnEmptyBoxHasNoShareOfNewFluid) {
  FluidContents contents = mixed();
  contents.drain(10);
  EXPECT_EQ(contents.share_new(), 0);
}

}  // namespace
}  // namespace sumplog
