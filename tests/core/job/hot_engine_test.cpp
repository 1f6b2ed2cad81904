#include "core/job/hot_engine.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

HotEngineSituation beside(double coolant_c, double fluid_c) {
  HotEngineSituation s;
  s.coolant.value = coolant_c;
  s.fluid.value = fluid_c;
  s.window = {{35}, {45}};
  s.minimum_stay_s = 120;
  return s;
}

// Common practice, no source: beside an engine of 88 °C a fluid of 30 °C crosses 35…45 °C in about a minute, 30…50 °C in
// about two.
TEST(HotEngine, SaysThatTheWindowWillLastAMinute) {
  const auto said = hot_engine_warning(beside(88, 32));
  ASSERT_TRUE(said);
  EXPECT_EQ(
      *said,
      "hot engine: coolant 88 °C, fluid 32 °C: the window will last about 1 min; the plug stays in, let the "
      "engine cool first");
}

TEST(HotEngine, AWiderWindowLastsLonger) {
  auto s = beside(88, 30);
  s.window = {{30}, {50}};
  const auto said = hot_engine_warning(s);
  ASSERT_TRUE(said);
  EXPECT_THAT(*said, HasSubstr("about 2 min"));
}

TEST(HotEngine, AColdEngineIsNoWarning) {
  EXPECT_FALSE(hot_engine_warning(beside(50, 32)));
  EXPECT_FALSE(hot_engine_warning(beside(30, 32)));
}

TEST(HotEngine, AtTheDifferenceOfThirtyDegreesItBegins) {
  auto s = beside(62, 32);
  s.minimum_stay_s = 1000;
  EXPECT_FALSE(hot_engine_warning(s));
  s.coolant.value = 62.1;
  EXPECT_TRUE(hot_engine_warning(s));
}

TEST(HotEngine, TheCoolantLimitOfTheServiceFileCountsToo) {
  auto s = beside(58, 34);
  s.minimum_stay_s = 300;
  EXPECT_FALSE(hot_engine_warning(s));
  s.coolant_limit = Celsius{50};
  EXPECT_TRUE(hot_engine_warning(s));
}

TEST(HotEngine, WhatIsMeasuredWinsOnceTheEngineHasWarmedTheFluidForLong) {
  auto s = beside(88, 32);
  s.foretold_stay_s = 600;  // this car has no warmer
  EXPECT_TRUE(hot_engine_warning(s)) << "the rate will exceed what was seen so far";
  s.engine_warms_it_long = true;
  EXPECT_FALSE(hot_engine_warning(s));
  s.foretold_stay_s = 40;
  const auto said = hot_engine_warning(s);
  ASSERT_TRUE(said);
  EXPECT_THAT(*said, HasSubstr("less than 1 min"));
}

TEST(HotEngine, AFluidAboveTheWindowIsAnotherMatter) {
  EXPECT_FALSE(hot_engine_warning(beside(88, 46)));
}

TEST(HotEngine, AWindowThatReachesTheCoolantNeverEnds) {
  auto s = beside(88, 50);
  s.window = {{70}, {90}};
  EXPECT_FALSE(hot_engine_warning(s));
}

TEST(HotEngine, ACoolantAboveItsLimitThatIsColderThanTheFluidWarmsNothing) {
  auto s = beside(35, 38);
  s.coolant_limit = Celsius{30};
  s.foretold_stay_s = 60;
  s.engine_warms_it_long = true;
  EXPECT_FALSE(hot_engine_warning(s));
  s.coolant.value = 39;
  EXPECT_TRUE(hot_engine_warning(s));
}

}  // namespace
}  // namespace sumplog
