#include "core/fluid/balance.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

FluidVolume litres(FluidWay way, double amount, std::optional<double> temp_c,
                   const std::string& part = "drain") {
  FluidVolume volume;
  volume.id = "e" + std::to_string(static_cast<int>(amount * 100));
  volume.way = way;
  volume.part = part;
  volume.litres = amount;
  volume.temp_c = temp_c;
  return volume;
}
FluidVolume mass(FluidWay way, double kg, std::optional<double> density) {
  FluidVolume volume;
  volume.id = "m";
  volume.way = way;
  volume.part = "drain";
  volume.mass_kg = kg;
  volume.density_kg_per_m3 = density;
  return volume;
}
BalanceEvent balance(const std::vector<FluidVolume>& volumes,
                     std::optional<DensityAt15> said = DensityAt15{850}) {
  return balance_of(volumes, counted(volumes, said), said);
}

TEST(Balance, BringsWhatCameOutHotAndWhatWentInColdToOneTemperature) {
  // API MPMS 11.1 / ASTM D1250 54D, 850 kg/m³, worked with another program: 4.20 L at 60 °C are 4.074175 L at 20 °C.
  const auto sums = balance({litres(FluidWay::out, 4.20, 60), litres(FluidWay::in, 4.00, 20, "refill")});
  EXPECT_EQ(sums.reference_c, 20);
  EXPECT_NEAR(sums.out_l, 4.074175, 1e-6);
  EXPECT_NEAR(sums.in_l, 4.0, 1e-9);
  EXPECT_NEAR(sums.to_refill_l.value(), 0.074175, 1e-6);
  // The same at 15 °C, as the standard's tables have it: 4.059112 and 3.985212 L.
  EXPECT_NEAR(volume_at(sums.out_l, {20}, {15}, {850}).value(), 4.059112, 1e-6);
  EXPECT_NEAR(volume_at(sums.in_l, {20}, {15}, {850}).value(), 3.985212, 1e-6);
}

TEST(Balance, AtEqualTemperatureAsMuchGoesInAsCameOut) {
  // Common practice, no source: 4.5 L out (sample, collected and pan together) ask for 4.5 L in, if the old level was right.
  const std::vector<FluidVolume> out{litres(FluidWay::out, 0.1, 42, "sample"), litres(FluidWay::out, 4.2, 42),
                                     litres(FluidWay::out, 0.2, 42, "pan")};
  auto all = out;
  all.push_back(litres(FluidWay::in, 0, 42, "refill"));
  EXPECT_NEAR(balance(all).to_refill_l.value(), 4.5, 1e-9);
  EXPECT_EQ(balance(all).fresh_c, 42);
  EXPECT_THAT(balance(all).assumes, Contains("the level was right before"));
}

TEST(Balance, SaysWhatMustGoBackInLitresOfTheFluidThatGoesIn) {
  // 4.20 L at 60 °C are 4.059112 L at 15 °C (as above).
  EXPECT_NEAR(balance({litres(FluidWay::out, 4.20, 60), litres(FluidWay::in, 0, 15)}).to_refill_l.value(),
              4.059112, 1e-6);
  const auto nobody_said = balance({litres(FluidWay::out, 4.20, 60)});
  EXPECT_NEAR(nobody_said.to_refill_l.value(), 4.074175, 1e-6);
  EXPECT_EQ(nobody_said.fresh_c, 20);
  EXPECT_THAT(nobody_said.assumes, Contains("20 °C for the fluid that goes in, nobody said"));
}

TEST(Balance, TooMuchIsBelowZero) {
  EXPECT_NEAR(balance({litres(FluidWay::out, 4, 20), litres(FluidWay::in, 4.8, 20)}).to_refill_l.value(),
              -0.8, 1e-9);
}

TEST(Balance, TellsEachPartInTheOrderInWhichItCame) {
  const auto sums =
      balance({litres(FluidWay::out, 0.1, 20, "sample"), litres(FluidWay::out, 4, 20, "drain"),
               litres(FluidWay::in, 4, 20, "refill"), litres(FluidWay::out, 0.2, 20, "sample")});
  ASSERT_EQ(sums.parts.size(), 3U);
  EXPECT_EQ(sums.parts[0].part, "sample");
  EXPECT_NEAR(sums.parts[0].out_l, 0.3, 1e-9);
  EXPECT_EQ(sums.parts[1].part, "drain");
  EXPECT_EQ(sums.parts[2].part, "refill");
  EXPECT_EQ(sums.parts[2].in_l, 4);
}

TEST(Balance, AfterALevelCheckTheCheckHasDecided) {
  std::vector<FluidVolume> volumes{litres(FluidWay::out, 4, 20), litres(FluidWay::in, 4.7, 20),
                                   litres(FluidWay::out, 0.6, 20, "level check")};
  EXPECT_NEAR(balance(volumes).out_l, 4.6, 1e-9) << "it is waste, and in the sum";
  EXPECT_FALSE(balance(volumes).to_refill_l) << "neither 0.1 L too much nor 0.7 L";
  volumes.push_back(litres(FluidWay::out, 2, 20));
  volumes.push_back(litres(FluidWay::in, 1.5, 20));
  EXPECT_NEAR(balance(volumes).to_refill_l.value(), 0.5, 1e-9) << "work that came after it";
}

TEST(Balance, AMassNeedsADensityAndNoTemperature) {
  // 3.57 kg of 850 kg/m³ are 4.2 L at 15 °C; 4.2 / 0.996303 (API MPMS 11.1, 850 kg/m³ at 20 °C) at 20 °C.
  const auto sums = balance({mass(FluidWay::out, 3.57, 850)}, {});
  EXPECT_NEAR(sums.out_l, 4.2 / 0.996303, 1e-5);
  EXPECT_THAT(sums.assumes, Not(Contains(HasSubstr("without a temperature"))));
  EXPECT_THAT(sums.assumes, Contains("1 volume with a density of its own, as entered"));
  EXPECT_NEAR(balance({mass(FluidWay::out, 3.57, {})}).out_l, 4.2 / 0.996303, 1e-5) << "the service file's";
}

TEST(Balance, TakesTheEntrysDensityBeforeTheServiceFilesBeforeTheAssumedOne) {
  // API MPMS 11.1 at 80 °C: 820 kg/m³ 0.949570, 850 0.951370, 880 0.953046; at 20 °C 0.996168, 0.996303, 0.996429.
  auto own = litres(FluidWay::out, 4, 80);
  own.density_kg_per_m3 = 820;
  EXPECT_NEAR(balance({own}, DensityAt15{880}).out_l, 4 * 0.949570 / 0.996168, 1e-5);
  EXPECT_NEAR(balance({litres(FluidWay::out, 4, 80)}, DensityAt15{880}).out_l, 4 * 0.953046 / 0.996429, 1e-5);
  const auto assumed = balance({litres(FluidWay::out, 4, 80)}, {});
  EXPECT_NEAR(assumed.out_l, 4 * 0.951370 / 0.996303, 1e-5);
  EXPECT_EQ(assumed.density_kg_per_m3, 850);
  EXPECT_THAT(assumed.assumes, Contains("density 850 ± 15 kg/m³ at 15 °C, nobody said"));
}

TEST(Balance, AMissingTemperatureBlocksNothingAndIsSaid) {
  const auto sums = balance({litres(FluidWay::out, 4.5, {}), litres(FluidWay::in, 4.5, {})});
  EXPECT_EQ(sums.out_l, 4.5);
  EXPECT_NEAR(sums.to_refill_l.value(), 0, 1e-9);
  EXPECT_THAT(sums.assumes, Contains("2 volumes without a temperature: taken as measured"));
}

TEST(Balance, WhatCannotBeCountedIsSaidAndTheRestCounts) {
  for (const double wrong : {-1.0, 200.5, 1e300}) {
    auto bad = litres(FluidWay::out, 1, 20);
    bad.id = "slip";
    bad.litres = wrong;
    const auto sums = balance({litres(FluidWay::out, 4, 20), bad});
    EXPECT_EQ(sums.out_l, 4) << wrong;
    EXPECT_THAT(sums.assumes, Contains(HasSubstr("entry slip (fluid out) is not counted: "))) << wrong;
  }
  FluidVolume nothing;
  nothing.id = "empty";
  nothing.way = FluidWay::in;
  EXPECT_THAT(balance({nothing}).assumes,
              Contains("entry empty (fluid in) is not counted: neither litres nor mass"));
  EXPECT_FALSE(balance({nothing}).to_refill_l) << "nothing was counted: nothing can be said";
}

TEST(Balance, ATemperatureOrADensityThatCannotBeIsNotUsedAndSaid) {
  const auto hot = balance({litres(FluidWay::out, 4, 400)});
  EXPECT_EQ(hot.out_l, 4);
  EXPECT_THAT(hot.assumes,
              Contains(HasSubstr("taken as measured: 400 °C is no temperature from -50 to 150 °C")));
  auto thin = litres(FluidWay::in, 4, 80);
  thin.density_kg_per_m3 = 85;  // a slip of the hand
  const auto sums = balance({thin}, {});
  EXPECT_NEAR(sums.in_l, 4 * 0.951370 / 0.996303, 1e-5);
  EXPECT_THAT(sums.assumes, Contains(HasSubstr("85 is not from 800 to 1164 kg/m³")));
  EXPECT_EQ(balance({litres(FluidWay::in, 1, 30), litres(FluidWay::in, 1, 999)}).fresh_c, 30);
}

TEST(Balance, OfNothingIsNothing) {
  const auto sums = balance({});
  EXPECT_EQ(sums.out_l, 0);
  EXPECT_THAT(sums.parts, IsEmpty());
  EXPECT_FALSE(sums.to_refill_l);
}

}  // namespace
}  // namespace sumplog
