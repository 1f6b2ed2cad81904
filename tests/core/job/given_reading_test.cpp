#include "core/job/given_reading.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

ReadingEvent described(const std::string& signal, const std::string& value, bool number = true) {
  ReadingEvent r;
  EXPECT_EQ(describe_given({{}, signal, value}, r), number) << value;
  return r;
}

TEST(GivenReading, HasTheDecimalsOfItsTextAndTheUnitOfItsSignal) {
  EXPECT_EQ(described("fluid_temperature", "40").decimals, 0);
  EXPECT_EQ(described("fluid_temperature", "-40.25").decimals, 2);
  EXPECT_EQ(described("fluid_temperature", "-40.25").value, -40.25);
  EXPECT_EQ(described("fluid_temperature", "40").unit, "degC");
  EXPECT_EQ(described("coolant_temperature", "40").unit, "degC");
  EXPECT_EQ(described("engine_speed", "700").unit, "rpm");
  EXPECT_EQ(described("vehicle_speed", "0").unit, "km/h");
  EXPECT_EQ(described("engine_load", "50").unit, "") << "not known, not invented";
}

TEST(GivenReading, AnEmptyFieldIsNoReading) {
  const auto r = described("fluid_temperature", "");
  EXPECT_FALSE(r.value);
  EXPECT_EQ(r.quality, Quality::suspect);
  EXPECT_EQ(r.why, "not available");
}

TEST(GivenReading, WhatIsNoNumberIsRefused) {
  for (const char* text :
       {"warm", "40C", " 40", "40 ", "nan", "inf", "-inf", "1e999", "0x28", "4,5", "--1", "."})
    described("fluid_temperature", text, false);
}

TEST(GivenReading, ANumberBeyondAllMeasureIsNoReading) {
  for (const char* text : {"1e308", "-1e6", "100001"}) {
    const auto r = described("fluid_temperature", text);
    EXPECT_FALSE(r.value) << text;
    EXPECT_EQ(r.quality, Quality::suspect);
    EXPECT_EQ(r.why, "out of range (" + std::string(text) + ")");
  }
}

}  // namespace
}  // namespace sumplog
