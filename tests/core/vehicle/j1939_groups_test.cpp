#include "core/vehicle/j1939_groups.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using testing::ElementsAre;
using testing_vehicle::Bench;
using testing_vehicle::bytes_of;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;
using testing_vehicle::text_of_frame;

const std::string kVin = "0TESTTRK8FAKE0002";

Drivetrain drivetrain_at(double fluid_c) {
  Scenario scenario = scenario_of(scenario_text());
  scenario.temperatures.sensor = {fluid_c};
  return {scenario, at_micros(0)};
}

TEST(J1939Id, HasTheFieldsThatTsharkReads) {
  // Debian's tshark: 18FEF803 is priority 6, PGN 65272, source 3; 0CF00203 is 3/61442; 18EAFFF9 is PGN 59904 to 255 from 249;
  // 18ECFF03 is PGN 60416.
  EXPECT_EQ(j1939_id(6, 65272, 255, 3), extended_id(0x18FEF803));
  EXPECT_EQ(j1939_id(3, 61442, 255, 3), extended_id(0x0CF00203));
  EXPECT_EQ(j1939_id(6, 59904, 255, 249), extended_id(0x18EAFFF9));
  EXPECT_EQ(j1939_id(6, 60416, 255, 3), extended_id(0x18ECFF03));
}

TEST(TransmissionFluids, OilTemperatureStandsInBytesFiveAndSix) {
  // canboat's table and candied with a DBC file: FF FF FF 14 20 2E FF FF is 96.0 °C; 2220 is 0.0, 2AE0 is 70.0.
  const auto data = [](double celsius) {
    return group_data(BroadcastGroup::transmission_fluids, kVin, drivetrain_at(celsius));
  };
  EXPECT_EQ(data(96), bytes_of("FF FF FF FF 20 2E FF FF"));
  EXPECT_EQ(data(0), bytes_of("FF FF FF FF 20 22 FF FF"));
  EXPECT_EQ(data(70), bytes_of("FF FF FF FF E0 2A FF FF"));
}

TEST(TransmissionFluids, DeadSensorIsNotAvailable) {
  Drivetrain drivetrain = drivetrain_at(40);
  drivetrain.apply(SensorChange{SensorState::dead, {}});
  EXPECT_EQ(group_data(BroadcastGroup::transmission_fluids, kVin, drivetrain),
            bytes_of("FF FF FF FF FF FF FF FF"));
}

TEST(Gears, ParkIsFb) {
  Drivetrain drivetrain = drivetrain_at(40);
  EXPECT_EQ(group_data(BroadcastGroup::gears, kVin, drivetrain)[0], 0xFB);  // SPN 524, SAE J1939-71
  drivetrain.apply(SelectorChange{SelectorPosition::reverse});
  EXPECT_EQ(group_data(BroadcastGroup::gears, kVin, drivetrain), bytes_of("7C FF FF 7C FF FF FF FF"));  // -1
  drivetrain.apply(SelectorChange{SelectorPosition::drive});
  EXPECT_EQ(group_data(BroadcastGroup::gears, kVin, drivetrain), bytes_of("7E FF FF 7E FF FF FF FF"));  // 1
}

TEST(Engine, TemperatureAndSpeedHaveTheirScales) {
  // SPN 110: byte 1, offset -40. SPN 84: bytes 2 and 3, 1/256 km/h.
  Drivetrain drivetrain = drivetrain_at(40);
  drivetrain.apply(VehicleSpeedChange{50});
  EXPECT_EQ(group_data(BroadcastGroup::engine_temperature, kVin, drivetrain)[0], 0x7B);
  EXPECT_EQ(group_data(BroadcastGroup::vehicle_speed, kVin, drivetrain), bytes_of("FF 00 32 FF FF FF FF FF"));
  drivetrain.apply(VehicleSpeedChange{0});
  const auto speed = group_data(BroadcastGroup::engine_speed, kVin, drivetrain);
  EXPECT_NEAR((speed[3] + 256 * speed[4]) * 0.125, 700, 10);  // SPN 190: bytes 4 and 5, 0.125 rpm
}

TEST(AnnounceFrames, SampleOfAnnouncedMessage) {
  // 14 bytes of PGN 65226: 20 0E00 02 FF CAFE00, then packets of seven (SAE J1939-21; layout: @canboat/ts-pgns).
  const auto frames = announce_frames(65226, 3, bytes_of("04 FF B1 00 00 05 7E 00 0A 02 FF FF E3 81"));
  std::vector<std::string> texts;
  for (const CanFrame& frame : frames) texts.push_back(text_of_frame(frame));
  EXPECT_THAT(texts, ElementsAre("1CECFF03#200E0002FFCAFE00", "1CEBFF03#0104FFB10000057E",
                                 "1CEBFF03#02000A02FFFFE381"));
}

std::string heavy(const std::string& groups) {
  return scenario_text("[j1939]\n" + groups);
}

TEST(Broadcaster, EachGroupComesAtItsPeriod) {
  Bench bench(heavy("transmission_fluids_s = 1\nengine_speed_s = 0.1\n"));
  bench.wait(seconds(10));
  int fluids = 0;
  int speeds = 0;
  for (const CanFrame& frame : bench.port.take_heard()) {
    if (frame.id == extended_id(0x18FEF803)) ++fluids;
    if (frame.id == extended_id(0x0CF00400)) ++speeds;
  }
  EXPECT_EQ(fluids, 10);
  EXPECT_EQ(speeds, 100);
}

TEST(Gears, OfEachPositionOfTheSelector) {
  // SAE J1939-71, SPN 524 in byte 1 and SPN 523 in byte 4: offset -125, so 7D is 0, 7E first gear, 7C reverse.
  const auto gears = [](SelectorPosition position, double km_h) {
    Drivetrain drivetrain = drivetrain_at(30);
    drivetrain.apply(SelectorChange{position});
    drivetrain.apply(VehicleSpeedChange{km_h});
    const auto data = group_data(BroadcastGroup::gears, kVin, drivetrain);
    return std::pair<int, int>{data[0], data[3]};
  };
  EXPECT_EQ(gears(SelectorPosition::park, 0), std::pair(0xFB, 0x7D));
  EXPECT_EQ(gears(SelectorPosition::reverse, 0), std::pair(0x7C, 0x7C));
  EXPECT_EQ(gears(SelectorPosition::neutral, 0), std::pair(0x7D, 0x7D));
  EXPECT_EQ(gears(SelectorPosition::drive, 0), std::pair(0x7E, 0x7E));
  EXPECT_GT(gears(SelectorPosition::drive, 100).second, 0x7F);
}

TEST(Broadcaster, ASourceAnnouncesOneMessageAtATime) {
  // SAE J1939-21. The engine tells its VIN and three codes, both longer than a frame and in the same second.
  std::string codes;
  for (int spn = 100; spn < 103; ++spn)
    codes += "[[j1939.code]]\nfrom = \"engine\"\nspn = " + std::to_string(spn) + "\nfmi = 3\n";
  Bench bench(heavy("vehicle_identification_s = 0.5\nfault_codes_s = 0.5\n" + codes));
  bench.wait(seconds(5));
  int left = 0;
  int announced = 0;
  for (const std::string& text : bench.heard()) {
    if (text.starts_with("1CECFF00#20")) {
      EXPECT_EQ(left, 0) << "the last one has not ended";
      left = std::stoi(text.substr(15, 2), nullptr, 16);
      ++announced;
    } else if (text.starts_with("1CEBFF00#")) {
      --left;
    }
  }
  EXPECT_GT(announced, 8);
}

TEST(Broadcaster, ARequestToSomebodyElseOrOfTooFewBytesIsNotOurs) {
  Bench bench(heavy("transmission_fluids_s = 60\n"));
  bench.wait(seconds(1));
  (void)bench.port.take_heard();
  bench.send(extended_id(0x18EA21F9), "F8 FE 00");
  bench.send(extended_id(0x18EA03F9), "F8 FE");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("18EA03F9#F8FE", "18EA21F9#F8FE00"));
}

TEST(Broadcaster, AnnouncedPacketsKeepTheirDistance) {
  Bench bench(heavy("vehicle_identification_s = 5\n"));
  bench.wait(seconds(1));
  const auto frames = bench.port.take_heard();
  ASSERT_EQ(frames.size(), 4U);  // 18 bytes in three packets
  for (std::size_t i = 1; i < frames.size(); ++i) {
    // SAE J1939-21: 50…200 ms between the packets of a broadcast announce message.
    EXPECT_GE(frames[i].at - frames[i - 1].at, milliseconds(50));
    EXPECT_LE(frames[i].at - frames[i - 1].at, milliseconds(200));
  }
}

TEST(Broadcaster, RequestForAGroupIsAnsweredAtOnce) {
  Bench bench(heavy("transmission_fluids_s = 60\n"));
  bench.wait(seconds(1));
  (void)bench.port.take_heard();
  bench.send(extended_id(0x18EAFFF9), "F8 FE 00");
  bench.wait(milliseconds(20));
  EXPECT_THAT(bench.heard(), ElementsAre("18EAFFF9#F8FE00", testing::StartsWith("18FEF803#")));
}

TEST(Broadcaster, AddressAskedForWhatItDoesNotHaveRefuses) {
  Bench bench(heavy("transmission_fluids_s = 60\n"));
  bench.wait(seconds(1));
  (void)bench.port.take_heard();
  bench.send(extended_id(0x18EA03F9), "CA FE 00");
  bench.wait(milliseconds(20));
  // SAE J1939-21 acknowledgement PGN 59392: control 1 = negative, the asker's address, the PGN (from memory).
  EXPECT_THAT(bench.heard(), ElementsAre("18EA03F9#CAFE00", "18E8FF03#01FFFFFFF9CAFE00"));
  bench.send(extended_id(0x18EAFFF9), "CA FE 00");
  bench.wait(milliseconds(20));
  EXPECT_THAT(bench.heard(), ElementsAre("18EAFFF9#CAFE00"));
}

TEST(Broadcaster, BackgroundTrafficCountsAtItsRate) {
  Bench bench(scenario_text(R"(
[[background]]
id = 0x120
period_s = 0.01
)"));
  bench.wait(seconds(1));
  const auto heard = bench.heard();
  EXPECT_NEAR(static_cast<double>(heard.size()), 100, 1);
  EXPECT_EQ(heard[0], "120#0000000000000020");
  EXPECT_EQ(heard[3], "120#0000000000000320");
}

TEST(Broadcaster, BackgroundTrafficMayBeWithoutAByte) {
  Bench bench(scenario_text("[[background]]\nid = 0x120\nperiod_s = 0.01\nlength = 0\n"));
  bench.wait(milliseconds(100));
  const auto heard = bench.heard();
  ASSERT_GT(heard.size(), 5U);
  EXPECT_EQ(heard[0], "120#");
}

}  // namespace
}  // namespace sumplog
