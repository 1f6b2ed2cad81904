#include "core/thermal/reading_intake.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace sumplog {
namespace {

class ReadingIntakeTest : public ::testing::Test {
 protected:
  Intake reading(double value, double later_s = 1) {
    now_s_ += later_s;
    return intake_.on_reading(now_s_, value);
  }
  void readings(double value, int count) {
    for (int i = 0; i < count; ++i) reading(value);
  }
  ReadingIntake intake_{1};
  double now_s_ = 0;
};

TEST_F(ReadingIntakeTest, TheFirstReadingBeginsAndEachSecondIsATick) {
  EXPECT_EQ(reading(30), Intake::restart);
  EXPECT_EQ(reading(30, 0.5), Intake::held);
  EXPECT_EQ(reading(31, 0.4), Intake::held);
  EXPECT_EQ(reading(31, 0.1), Intake::tick);
  EXPECT_EQ(intake_.reading_c(), 31);
  EXPECT_NEAR(intake_.mean_c(), 92.0 / 3, 1e-12);
}

TEST_F(ReadingIntakeTest, WhatNoFluidHasIsNotUsed) {
  // SAE J1979: raw 00 is −40 °C, raw FF 215 °C.
  for (const double value : {-40.0, 215.0, 200.0, std::numeric_limits<double>::quiet_NaN(),
                             std::numeric_limits<double>::infinity()})
    EXPECT_EQ(reading(value), Intake::out_of_range) << value;
  EXPECT_EQ(reading(-39), Intake::restart);
}

TEST_F(ReadingIntakeTest, AJumpIsSuspiciousUntilItHasStayedForEightSeconds) {
  readings(38, 10);
  for (int i = 0; i < 8; ++i) EXPECT_EQ(reading(80), Intake::suspicious) << i;
  EXPECT_FALSE(intake_.substitute());
  EXPECT_EQ(reading(80), Intake::restart);
  EXPECT_TRUE(intake_.substitute());
}

TEST_F(ReadingIntakeTest, BehindAJumpTheStepIsTheToldOneAgain) {
  intake_ = ReadingIntake(1.0 / 32);
  EXPECT_EQ(intake_.step_c(), 1) << "of a fine scale it is not known";
  readings(38, 10);
  readings(80, 9);
  EXPECT_TRUE(intake_.substitute());
  EXPECT_EQ(intake_.step_c(), 1.0 / 32);
}

TEST_F(ReadingIntakeTest, AGoodReadingEndsTheSuspicion) {
  readings(38, 10);
  for (int i = 0; i < 5; ++i) reading(80);
  EXPECT_EQ(reading(38), Intake::tick);
  for (int i = 0; i < 8; ++i) EXPECT_EQ(reading(80), Intake::suspicious) << "counts anew " << i;
}

TEST_F(ReadingIntakeTest, AJumpOnToAnotherValueHasToStayForEightSecondsItself) {
  readings(38, 10);
  for (int i = 0; i < 6; ++i) EXPECT_EQ(reading(80), Intake::suspicious);
  for (int i = 0; i < 8; ++i) EXPECT_EQ(reading(120), Intake::suspicious) << i;
  EXPECT_EQ(reading(120), Intake::restart);
}

TEST_F(ReadingIntakeTest, ThreePlausibleChangesEndTheDoubt) {
  readings(20, 5);
  readings(80, 9);
  ASSERT_TRUE(intake_.substitute());
  reading(81);
  reading(82);
  EXPECT_TRUE(intake_.substitute());
  reading(83);
  EXPECT_FALSE(intake_.substitute());
}

TEST_F(ReadingIntakeTest, TheWayBackToTheFluidIsNoSubstitute) {
  readings(38, 10);
  readings(80, 60);
  ASSERT_TRUE(intake_.substitute());
  readings(40, 9);
  EXPECT_FALSE(intake_.substitute());
  readings(38, 10);
  readings(80, 9);
  EXPECT_TRUE(intake_.substitute()) << "the next one is seen again";
  readings(60, 9);
  EXPECT_TRUE(intake_.substitute()) << "that is not where the fluid was";
}

TEST_F(ReadingIntakeTest, AfterASilenceAFluidMayHaveGoneFarButNotAtOnce) {
  readings(38, 5);
  EXPECT_EQ(reading(38 + 20, 120), Intake::tick) << "10 °C/min for two minutes";
  EXPECT_EQ(reading(58 + 20, 5), Intake::suspicious);
}

TEST_F(ReadingIntakeTest, AfterTenMinutesOrBackInTimeItBeginsAnew) {
  readings(38, 5);
  EXPECT_EQ(reading(90, 601), Intake::restart);
  EXPECT_FALSE(intake_.substitute());
  EXPECT_EQ(reading(20, -5), Intake::restart);
}

TEST_F(ReadingIntakeTest, FindsACoarseConverterBehindAFineScale) {
  intake_ = ReadingIntake(1.0 / 32);
  EXPECT_EQ(intake_.step_c(), 1) << "not known yet";
  for (int i = 0; i < 12; ++i) readings(30 + i * 0.5, 5);
  EXPECT_EQ(intake_.step_c(), 0.5);
  EXPECT_TRUE(intake_.learnt_step());
}

TEST_F(ReadingIntakeTest, BelievesAFineScaleThatMovesFinely) {
  intake_ = ReadingIntake(1.0 / 32);
  for (int i = 0; i < 60; ++i) reading(30 + i / 32.0);
  EXPECT_EQ(intake_.step_c(), 1.0 / 32);
  EXPECT_FALSE(intake_.still_too_long());
  readings(32, 70);
  EXPECT_TRUE(intake_.still_too_long());
}

}  // namespace
}  // namespace sumplog
