#include "core/vehicle/parameters.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

#include "core/diagnostics/pid_length.h"
#include "core/vehicle/demo_vehicle.h"
#include "core/vehicle/fault_memory.h"
#include "core/vehicle/field_bytes.h"

namespace sumplog {
namespace {

using testing_vehicle::bytes_of;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

TEST(SupportBitmap, WorkedExampleOfManyParameters) {
  // Debian's tshark and scapy decode 41 00 BE 1F A8 13 as this list; docs.racket-lang.org/obd2 has the same. 20 is set
  // because a later bitmap follows.
  const std::vector<std::uint8_t> pids{0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E,
                                       0x0F, 0x10, 0x11, 0x13, 0x15, 0x1C, 0x1F, 0x42};
  EXPECT_EQ(support_bitmap(pids, 0x00), bytes_of("BE 1F A8 13"));
}

TEST(SupportBitmap, WorkedExampleOfALaterRange) {
  // tshark: 41 40 6C 00 00 10 is 42 43 45 46 5C.
  const std::vector<std::uint8_t> pids{0x42, 0x43, 0x45, 0x46, 0x5C};
  EXPECT_EQ(support_bitmap(pids, 0x40), bytes_of("6C 00 00 10"));
}

TEST(SupportBitmap, BitmapsBetweenAreThereThoughTheirRangeIsEmpty) {
  const std::vector<std::uint8_t> pids{0x0D, 0xA4};
  EXPECT_EQ(support_bitmap(pids, 0x20), bytes_of("00 00 00 01"));
  EXPECT_EQ(support_bitmap(pids, 0xA0), bytes_of("10 00 00 00"));
  EXPECT_TRUE(has_bitmap(pids, 0x80));
  EXPECT_TRUE(has_bitmap(pids, 0xA0));
  EXPECT_FALSE(has_bitmap(pids, 0xC0));
}

TEST(SupportBitmap, UnitWithoutParametersHasNoBit) {
  EXPECT_EQ(support_bitmap({}, 0), bytes_of("00 00 00 00"));
}

TEST(ParameterBytes, EachHasTheLengthThatJ1979Gives) {
  const Drivetrain drivetrain(scenario_of(scenario_text()), at_micros(0));
  const FaultMemory memory{FaultMemoryPlan{}};
  int known = 0;
  for (unsigned pid = 0; pid <= 0xFF; ++pid) {
    if (!is_known_parameter(static_cast<std::uint8_t>(pid))) continue;
    ++known;
    // Outside: pid_length() is scapy's table (scapy/contrib/automotive/obd/pid), which this code does not use.
    const auto length = pid_length(static_cast<std::uint8_t>(pid));
    ASSERT_TRUE(length) << pid;
    const auto one = static_cast<std::uint8_t>(pid);
    const auto bytes =
        FaultMemory::tells(one) ? memory.parameter(one, drivetrain) : parameter_bytes(one, drivetrain);
    EXPECT_EQ(bytes.size(), *length) << std::hex << pid;
  }
  EXPECT_EQ(known, 20);
}

TEST(ParameterBytes, CoolantOf83DegreesIs7B) {
  // SAE J1979 PID 05: A - 40; Debian's tshark and scapy: 7B is 83 °C.
  const Drivetrain drivetrain(scenario_of(scenario_text()), at_micros(0));
  EXPECT_EQ(parameter_bytes(0x05, drivetrain), bytes_of("7B"));
}

TEST(ParameterBytes, ActualGearStandsInTheUpperHalfOfTheSecondByte) {
  Drivetrain drivetrain(scenario_of(scenario_text()), at_micros(0));
  EXPECT_EQ(parameter_bytes(0xA4, drivetrain), bytes_of("03 00 00 00"));  // P
  drivetrain.apply(SelectorChange{SelectorPosition::drive});
  drivetrain.apply(VehicleSpeedChange{40});
  // SAE J1979 PID A4 (layout from a copy of its table): support bits, gear in bits 7…4, ratio × 1000.
  EXPECT_EQ(parameter_bytes(0xA4, drivetrain), bytes_of("03 30 07 76"));
}

TEST(ParameterBytes, OdometerCountsTenthsOfAKilometre) {
  // 00 06 68 A0 is 42000.0 km (SAE J1979 PID A6, u32 / 10).
  Scenario scenario = scenario_of(scenario_text());
  scenario.odometer_km = 42000;
  const Drivetrain drivetrain(scenario, at_micros(0));
  EXPECT_EQ(parameter_bytes(0xA6, drivetrain), bytes_of("00 06 68 A0"));
}

FieldCoding one_byte() {
  FieldCoding coding;
  coding.offset = -40;
  return coding;
}

TEST(FieldBytes, RoundsToTheNearestStepAndHalfAStepUp) {
  EXPECT_EQ(field_bytes(one_byte(), 35.49), bytes_of("4B"));
  EXPECT_EQ(field_bytes(one_byte(), 35.5), bytes_of("4C"));
  EXPECT_EQ(field_bytes(one_byte(), -10.4), bytes_of("1E"));
}

TEST(FieldBytes, FloorCutsDownwardsBelowZeroToo) {
  FieldCoding coding = one_byte();
  coding.rounding = Rounding::floor;
  EXPECT_EQ(field_bytes(coding, 35.99), bytes_of("4B"));
  EXPECT_EQ(field_bytes(coding, -0.01), bytes_of("27"));
}

TEST(FieldBytes, ValueBeyondTheFieldTakesItsNearestEnd) {
  EXPECT_EQ(field_bytes(one_byte(), -60), bytes_of("00"));
  EXPECT_EQ(field_bytes(one_byte(), 900), bytes_of("FF"));
  FieldCoding coding;
  coding.bytes = 2;
  coding.is_signed = true;
  EXPECT_EQ(field_bytes(coding, -1), bytes_of("FF FF"));
  EXPECT_EQ(field_bytes(coding, 1e9), bytes_of("7F FF"));
  EXPECT_EQ(field_bytes(coding, -1e9), bytes_of("80 00"));
}

TEST(FieldBytes, FourBytesReachTheirWholeRange) {
  FieldCoding coding;
  coding.bytes = 4;
  EXPECT_EQ(field_bytes(coding, 4294967295.0), bytes_of("FF FF FF FF"));
}

TEST(FieldBytes, LittleEndianTurnsTheBytesRound) {
  FieldCoding coding;
  coding.bytes = 2;
  coding.byte_order = ByteOrder::little;
  coding.scale = 0.03125;
  coding.offset = -273;
  EXPECT_EQ(field_bytes(coding, 96.0), bytes_of("20 2E"));  // SPN 177; candied with a DBC file: 2E20 is 96 °C
}

TEST(FieldBytes, DeadSensorSendsItsPatternAndOnlyForTheFluid) {
  Drivetrain drivetrain(scenario_of(scenario_text()), at_micros(0));
  drivetrain.apply(SensorChange{SensorState::dead, {}});
  FieldCoding coding = one_byte();
  EXPECT_EQ(field_bytes(coding, Quantity::fluid_temperature, drivetrain), bytes_of("FF"));
  coding.no_value = 0xFE;
  EXPECT_EQ(field_bytes(coding, Quantity::fluid_temperature, drivetrain), bytes_of("FE"));
  EXPECT_EQ(field_bytes(coding, Quantity::coolant_temperature, drivetrain), bytes_of("7B"));
}

TEST(FieldBytes, SelectorTakesTheCodeOfItsPosition) {
  Drivetrain drivetrain(scenario_of(scenario_text()), at_micros(0));
  FieldCoding coding;
  coding.codes = {8, 7, 6, 5};
  EXPECT_EQ(field_bytes(coding, Quantity::selector_position, drivetrain), bytes_of("08"));
  drivetrain.apply(SelectorChange{SelectorPosition::neutral});
  EXPECT_EQ(field_bytes(coding, Quantity::selector_position, drivetrain), bytes_of("06"));
}

TEST(ParametersOfAUnit, SevenParametersAtOnceAreTooMany) {
  // SAE J1979: at most six in a request.
  testing_vehicle::Bench bench(scenario_text());
  bench.send(0x7E0, "10 08 01 05 0C 0D 0F 11");
  bench.wait(std::chrono::milliseconds(50));
  bench.send(0x7E0, "21 5C 04 33 CC CC CC CC");
  bench.wait(std::chrono::milliseconds(50));
  EXPECT_THAT(bench.heard(), ::testing::Contains("7E8#037F0113CCCCCCCC"));
}

}  // namespace
}  // namespace sumplog
