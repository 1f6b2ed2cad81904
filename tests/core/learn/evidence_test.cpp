#include "core/learn/evidence.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

TimePoint at(double s) {
  return at_micros(static_cast<std::int64_t>(s * 1e6));
}

ReadingEvent reading(const std::string& signal, std::optional<double> value,
                     Quality quality = Quality::measured) {
  ReadingEvent event;
  event.at = at(10);
  event.signal = signal;
  event.value = value;
  event.quality = quality;
  return event;
}

// --- readings ---

TEST(EvidenceTest, TheStandardParametersAreKeptEachInItsPlace) {
  Evidence evidence;
  double value = 1;
  for (const char* name : {"coolant_temperature", "engine_oil_temperature", "ambient_temperature",
                           "intake_air_temperature", "engine_speed", "vehicle_speed"})
    evidence.on_reading(reading(name, value++));
  EXPECT_EQ(evidence.coolant_c.at(at(10)), 1);
  EXPECT_EQ(evidence.oil_c.at(at(10)), 2);
  EXPECT_EQ(evidence.ambient_c.at(at(10)), 3);
  EXPECT_EQ(evidence.intake_c.at(at(10)), 4);
  EXPECT_EQ(evidence.engine_rpm.at(at(10)), 5);
  EXPECT_EQ(evidence.speed_kmh.at(at(10)), 6);
}

TEST(EvidenceTest, AReadingByHandOfTheFluidIsSeenAndOthersAreNothing) {
  Evidence evidence;
  evidence.on_reading(reading("fluid_temperature", 36.0, Quality::by_hand));
  evidence.on_reading(reading("fluid_temperature", {}, Quality::by_hand));
  evidence.on_reading(reading("coolant_temperature", 80.0, Quality::by_hand));
  evidence.on_reading(reading("fluid_temperature", 40.0));  // what is searched for cannot be its own proof
  evidence.on_reading(reading("odometer", 84'210));
  ASSERT_EQ(evidence.seen.size(), 1U);
  EXPECT_EQ(evidence.seen[0].temp_c, 36);
  EXPECT_TRUE(evidence.coolant_c.empty());
}

// --- the temperature of the whole car at the beginning ---

Evidence cold(double coolant_c, double ambient_c) {
  Evidence evidence;
  evidence.coolant_c.add(at(5), coolant_c);
  evidence.ambient_c.add(at(5), ambient_c);
  return evidence;
}

TEST(ColdSoakTest, ACoolantThatAgreesWithTheAirMeansACarThatHasStood) {
  const auto soak = cold_soak(cold(18, 17), at(0));
  ASSERT_TRUE(soak);
  EXPECT_EQ(soak->temp_c, 17.5);
  EXPECT_LT(soak->sure, 1) << "it is concluded";
  EXPECT_FALSE(cold_soak(cold(35, 18), at(0))) << "driven a while ago";
  EXPECT_FALSE(cold_soak(cold(44, 43), at(0))) << "a hot day is no cold start";
  EXPECT_FALSE(cold_soak(cold(18, 17), at(-300))) << "long before they were read";
}

TEST(ColdSoakTest, TheAirThatIsTakenInStandsForTheAirOutside) {
  Evidence evidence;
  evidence.coolant_c.add(at(5), 18);
  EXPECT_FALSE(cold_soak(evidence, at(0)));
  evidence.intake_c.add(at(5), 20);
  ASSERT_TRUE(cold_soak(evidence, at(0)));
  EXPECT_EQ(cold_soak(evidence, at(0))->temp_c, 19);
  Evidence no_coolant;
  no_coolant.ambient_c.add(at(5), 18);
  EXPECT_FALSE(cold_soak(no_coolant, at(0)));
}

TEST(ColdSoakTest, WhatAPersonSaysIsSure) {
  Evidence evidence = cold(90, 18);
  evidence.soak_c = 21;
  ASSERT_TRUE(cold_soak(evidence, at(0)));
  EXPECT_EQ(cold_soak(evidence, at(0))->temp_c, 21);
  EXPECT_EQ(cold_soak(evidence, at(0))->sure, 1);
}

// --- values over time ---

TEST(TimedValuesTest, BetweenTwoValuesLiesALineUnlessTheyAreTooFarApart) {
  TimedValues values;
  values.add(at(0), 10);
  values.add(at(0.5), 99);  // one a second is enough
  values.add(at(4), 14);
  values.add(at(4000), 50);
  EXPECT_EQ(values.at(at(0)), 10);
  EXPECT_EQ(values.at(at(1)), 11);
  EXPECT_FALSE(values.at(at(-1)));
  EXPECT_FALSE(values.at(at(2000)));
  EXPECT_FALSE(values.at(at(4001)));
  EXPECT_EQ(values.low(), 10);
  EXPECT_EQ(values.high(), 50);
}

TEST(TimedValuesTest, TheNearestWithinReachStandsForAMomentWithoutAValue) {
  TimedValues values;
  EXPECT_FALSE(values.near(at(0), 10s));
  values.add(at(100), 10);
  values.add(at(4000), 50);
  EXPECT_EQ(values.near(at(95), 10s), 10) << "behind it";
  EXPECT_EQ(values.near(at(105), 10s), 10) << "before it";
  EXPECT_EQ(values.near(at(3995), 10s), 50);
  EXPECT_EQ(values.near(at(4005), 10s), 50);
  EXPECT_FALSE(values.near(at(80), 10s));
  EXPECT_FALSE(values.near(at(120), 10s));
  EXPECT_EQ(values.near(at(105), 3900s), 10) << "of two the nearer one";
}

}  // namespace
}  // namespace sumplog
