#include "core/vehicle/fault_services.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>

#include "core/vehicle/demo_vehicle.h"
#include "core/vehicle/fault_memory_words.h"
#include "core/vehicle/services.h"

namespace sumplog {
namespace {

using testing_vehicle::bytes_of;
using testing_vehicle::kIso;
using testing_vehicle::kJ1979;
using testing_vehicle::scenario_of;
using testing_vehicle::with_memory;

/// Asks the first unit of a scenario, without a bus.
class Unit {
 public:
  explicit Unit(const std::string& text)
      : scenario_(scenario_of(text)),
        drivetrain_(scenario_, scenario_.start),
        memory_(scenario_.units.at(0).memory) {
    memory_.begin(drivetrain_);
  }
  std::string ask(std::string_view request, bool functional = false) {
    const auto bytes = bytes_of(request);
    const auto out = answer(scenario_.units.at(0), scenario_.vin, memory_, drivetrain_, bytes, functional);
    return out ? hex_text(out->data(), out->size()) : "silence";
  }
  template <class Change>
  void happens(const Change& change) {
    memory_.apply(change, drivetrain_);
  }
  void drives(double km_h, Duration time) {
    drivetrain_.apply(VehicleSpeedChange{km_h});
    now_ += time;
    drivetrain_.advance_to(scenario_.start + now_);
    drivetrain_.apply(VehicleSpeedChange{0});
  }
  FaultMemory& memory() { return memory_; }

 private:
  Scenario scenario_;
  Drivetrain drivetrain_;
  FaultMemory memory_;
  Duration now_{};
};

// ISO 14229-1, the worked examples of ReadDTCInformation, as driftregion/iso14229 (test/test_server.c) and
// pylessard/python-udsoncan (test_read_dtc_information.py) have them.

TEST(ReadDtcInformation, NumberByStatusMask) {
  // Its mask of kept status bits is 2F, its codes are those of ISO 14229-1 (01).
  Unit unit(with_memory("services = [\"ISO 14229\"]\navailability = 0x2F\nformat = 0x01",
                        "[[ecu.code]]\ncode = \"P0805-11\"\nstatus = 0x2F\n"
                        "[[ecu.code]]\ncode = \"P0A9B-17\"\nstatus = 0x24\n"));
  EXPECT_EQ(unit.ask("19 01 08"), "59012F010001");
}

constexpr char kTwoCodes[] =
    "[[ecu.code]]\ncode = \"P0A9B-17\"\nstatus = 0x24\n[[ecu.code]]\ncode = \"P0805-11\"\nstatus = 0x2F\n";

TEST(ReadDtcInformation, CodesByStatusMask) {
  Unit unit(with_memory(kIso, kTwoCodes));
  EXPECT_EQ(unit.ask("19 02 84"), "59027F0A9B17240805112F");
}

TEST(ReadDtcInformation, WithoutAMatchOnlyTheMaskIsTold) {
  Unit unit(with_memory(kIso, "[[ecu.code]]\ncode = \"P0A9B-17\"\nstatus = 0x24\n"));
  EXPECT_EQ(unit.ask("19 02 01"), "59027F");
  EXPECT_EQ(unit.ask("19 01 01"), "59017F010000");
}

constexpr char kRecords[] = R"(
[[ecu.code]]
code = "P1234-56"
status = 0x24
snapshot = [
  { record = 2, hex = "01 47 11 A6 66 07 50 20" },
]
extended = [ { record = 0x05, hex = "17" }, { record = 0x10, hex = "79" } ]
[[ecu.code]]
code = "P2345-05"
status = 0x00
[[ecu.code]]
code = "B2BCD-01"
status = 0x2F
)";

TEST(ReadDtcInformation, SnapshotRecordByCode) {
  Unit unit(with_memory(kIso, kRecords));
  EXPECT_EQ(unit.ask("19 04 12 34 56 02"), "59041234562402014711A666075020");
}

TEST(ReadDtcInformation, TwoSnapshotRecordsOfOneCode) {
  Unit unit(with_memory(kIso, R"(
[[ecu.code]]
code = "P1234-56"
status = 0x24
snapshot = [
  { record = 2, hex = "02 47 11 A6 66 07 50 20 67 89 99 88 77" },
  { record = 3, hex = "01 44 55 43 21" },
]
)"));
  EXPECT_EQ(unit.ask("19 04 12 34 56 FF"),
            "59041234562402024711A666075020678999887703014455"
            "4321");
}

TEST(ReadDtcInformation, ExtendedDataRecordsByCode) {
  Unit unit(with_memory(kIso, kRecords));
  EXPECT_EQ(unit.ask("19 06 12 34 56 FF"),
            "5906123456240517"
            "1079");
  EXPECT_EQ(unit.ask("19 06 12 34 56 10"), "5906123456241079");
}

TEST(ReadDtcInformation, SupportedCodes) {
  Unit unit(with_memory(kIso, kRecords));
  EXPECT_EQ(unit.ask("19 0A"), "590A7F1234562423450500ABCD012F");
}

TEST(ReadDtcInformation, BitsThatTheUnitDoesNotKeepAreZeroEverywhere) {
  // ISO 14229-1, DTCStatusAvailabilityMask.
  Unit unit(with_memory("services = [\"ISO 14229\"]\navailability = 0x09",
                        "[[ecu.code]]\ncode = \"P0711-1F\"\nstatus = 0xAF\n"));
  EXPECT_EQ(unit.ask("19 02 FF"),
            "5902090711"
            "1F09");
  EXPECT_EQ(unit.ask("19 02 26"), "590209");
}

TEST(ReadDtcInformation, RefusesAsTheStandardSays) {
  // ISO 14229-1: 12 sub-function not supported, 13 incorrect length, 31 request out of range; the length of a sub-function is
  // looked at after the sub-function itself.
  Unit unit(with_memory(kIso, kRecords));
  EXPECT_EQ(unit.ask("19"), "7F1913");
  EXPECT_EQ(unit.ask("19 55"), "7F1912");
  EXPECT_EQ(unit.ask("19 55 FF FF"), "7F1912");
  EXPECT_EQ(unit.ask("19 02"), "7F1913");
  EXPECT_EQ(unit.ask("19 02 FF FF"), "7F1913");
  EXPECT_EQ(unit.ask("19 0A FF"), "7F1913");
  EXPECT_EQ(unit.ask("19 04 12 34 56"), "7F1913");
  EXPECT_EQ(unit.ask("19 04 99 99 99 FF"), "7F1931");
  EXPECT_EQ(unit.ask("19 04 12 34 56 09"), "7F1931") << "a record that no code of the unit has";
  EXPECT_EQ(unit.ask("19 04 AB CD 01 02"), "5904ABCD012F") << "a record that another code has";
  EXPECT_EQ(unit.ask("19 06 AB CD 01 FF"), "5906ABCD012F");
}

TEST(ReadDtcInformation, IsKeptBackWhereTheStandardSaysSo) {
  // ISO 14229-1: 12 and 31 are not sent to a functional request; bit 7 of the sub-function suppresses the positive response
  // and no refusal.
  Unit unit(with_memory(kIso, kRecords));
  EXPECT_EQ(unit.ask("19 55", true), "silence");
  EXPECT_EQ(unit.ask("19 04 99 99 99 FF", true), "silence");
  EXPECT_EQ(unit.ask("19 02", true), "7F1913");
  EXPECT_EQ(unit.ask("19 02 24", true), "59027F12345624ABCD012F");
  EXPECT_EQ(unit.ask("19 82 24"), "silence");
  EXPECT_EQ(unit.ask("19 84 99 99 99 FF"), "7F1931");
}

TEST(ClearingCodes, IsRefusedAndChangesNothing) {
  Unit unit(with_memory(
      "services = [\"J1979\", \"ISO 14229\"]",
      "[[ecu.code]]\ncode = \"P0711-1F\"\nstatus = 0x2F\npermanent = true\nfreeze_frame = [{ pid = 5 }]\n"));
  const auto everything = [&unit] {
    return unit.ask("03") + unit.ask("07") + unit.ask("0A") + unit.ask("19 02 FF") + unit.ask("02 02 00") +
           unit.ask("01 01") + unit.ask("01 31 30 4E");
  };
  const std::string before = everything();
  // ISO 14229-1: 22 conditions not correct; 14 with a group of two bytes is 13 (driftregion/iso14229, 14 FFFF).
  EXPECT_EQ(unit.ask("04"), "7F0422");
  EXPECT_EQ(unit.ask("04", true), "7F0422");
  EXPECT_EQ(unit.ask("04 00"), "7F0413") << "it has no parameters";
  EXPECT_EQ(unit.ask("14 FF FF FF"), "7F1422");
  EXPECT_EQ(unit.ask("14 FF FF 33"), "7F1422");
  EXPECT_EQ(unit.ask("14 FF FF"), "7F1413");
  EXPECT_EQ(everything(), before);
}

TEST(StoredCodes, ComeWithTheirCountAndInTwoBytes) {
  // ISO 15765-4: 43 count codes. SAE J2012 conversions as Debian's scapy decodes 43 04 0711 0218 C100 9234.
  Unit unit(with_memory(
      kJ1979,
      "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n[[ecu.code]]\ncode = \"P0218\"\nstored = true\n"
      "[[ecu.code]]\ncode = \"U0100\"\nstored = true\npending = true\n"
      "[[ecu.code]]\ncode = \"B1234\"\nstored = true\npermanent = true\n"
      "[[ecu.code]]\ncode = \"P0741\"\npending = true\n"));
  EXPECT_EQ(unit.ask("03", true), "430407110218C1009234");
  EXPECT_EQ(unit.ask("07", true), "4702C1000741");
  EXPECT_EQ(unit.ask("0A", true), "4A019234");
}

TEST(StoredCodes, TheCountIsAByteAndNoMoreCodesAreTold) {
  std::string codes;
  for (int i = 0; i < 300; ++i) {
    const std::array<std::uint8_t, 2> bytes{static_cast<std::uint8_t>(0x10 | i / 100),
                                            static_cast<std::uint8_t>(i % 10 | i / 10 % 10 << 4)};
    codes += "[[ecu.code]]\ncode = \"P" + hex_text(bytes.data(), 2) + "\"\nstored = true\n";
  }
  Unit unit(with_memory(kJ1979, codes));
  const std::string told = unit.ask("03");
  EXPECT_EQ(told.substr(0, 4), "43FF");
  EXPECT_EQ(told.size(), 2U * (2 + 2 * 255));
}

TEST(StoredCodes, NoneIsACountOfZero) {
  Unit unit(with_memory(kJ1979, ""));
  EXPECT_EQ(unit.ask("03", true), "4300");
  EXPECT_EQ(unit.ask("07", true), "4700");
  EXPECT_EQ(unit.ask("0A", true), "4A00");
  EXPECT_EQ(unit.ask("03 00"), "7F0313");
}

TEST(StoredCodes, AUnitAnswersOnlyItsFamilyOfServices) {
  Unit j1979(with_memory(kJ1979, kTwoCodes));
  EXPECT_EQ(j1979.ask("19 02 FF"), "7F1911");
  EXPECT_EQ(j1979.ask("14 FF FF FF"), "7F1411");
  EXPECT_EQ(j1979.ask("19 02 FF", true), "silence");
  Unit iso(with_memory(kIso, kTwoCodes));
  EXPECT_EQ(iso.ask("03"), "7F0311");
  EXPECT_EQ(iso.ask("03", true), "silence");
  EXPECT_EQ(iso.ask("04", true), "silence");
}

TEST(FreezeFrame, TellsTheCodeThatStoredItAndTheVehicleAsItWas) {
  // Debian's scapy: 42 0C 00 1AF8 is an engine speed of 1726.
  Unit unit(with_memory(kJ1979,
                        "[[ecu.code]]\ncode = \"P0711\"\nstored = true\nfreeze_frame = [{ pid = 0x05 }, "
                        "{ pid = 0x0C, hex = \"1AF8\" }]\n"));
  EXPECT_EQ(unit.ask("02 02 00"), "4202000711");
  EXPECT_EQ(unit.ask("02 05 00"), "4205007B") << "coolant 83 °C";
  EXPECT_EQ(unit.ask("02 0C 00"), "420C001AF8");
  EXPECT_EQ(unit.ask("02 02 00 05 00 0C 00"),
            "4202000711"
            "05007B"
            "0C001AF8");
  // Bits of 02, 05 and 0C: 0100 1000 0001 0000.
  EXPECT_EQ(unit.ask("02 00 00"), "42000048100000");
}

TEST(FreezeFrame, WhatIsNotThereIsLeftOut) {
  Unit unit(with_memory(kJ1979,
                        "[[ecu.code]]\ncode = \"P0711\"\nstored = true\nfreeze_frame = [{ pid = 0x05 }]\n"));
  EXPECT_EQ(unit.ask("02 0D 00"), "silence");
  EXPECT_EQ(unit.ask("02 05 01"), "silence");
  EXPECT_EQ(unit.ask("02 02 01"), "silence") << "only number 00 is there without a frame";
  EXPECT_EQ(unit.ask("02 05 00 0D 00"), "4205007B");
  EXPECT_EQ(unit.ask("02 20 00"), "silence") << "nothing of that range";
  EXPECT_EQ(unit.ask("02"), "7F0213");
  EXPECT_EQ(unit.ask("02 05"), "7F0213");
  EXPECT_EQ(unit.ask("02 02 00 05 00 0C 00 0D 00"), "7F0213");
}

TEST(FreezeFrame, WithoutOneTheCodeIsZero) {
  // SAE J1979, PID 02: 0000 means that no freeze frame is stored.
  Unit unit(with_memory(kJ1979, "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n"));
  EXPECT_EQ(unit.ask("02 02 00"), "4202000000");
  EXPECT_EQ(unit.ask("02 05 00"), "silence");
  EXPECT_EQ(unit.ask("02 00 00"), "42000040000000");
}

TEST(FreezeFrame, OfASecondCodeHasTheNextNumber) {
  Unit unit(with_memory(kJ1979,
                        "[[ecu.code]]\ncode = \"P0711\"\nstored = true\nfreeze_frame = [{ pid = 0x05 }]\n"
                        "[[ecu.code]]\ncode = \"P0218\"\nstored = true\nfreeze_frame = [{ pid = 0x0D }]\n"));
  EXPECT_EQ(unit.ask("02 02 01"), "4202010218");
  EXPECT_EQ(unit.ask("02 0D 01"), "420D0100");
  EXPECT_EQ(unit.ask("02 0D 00"), "silence");
}

TEST(MonitorStatus, TellsLampCountAndReadiness) {
  // SAE J1979 PID 01 as Debian's scapy reads byte A of 83 07 65 E5: lamp on, 3 codes.
  const std::string three =
      "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n[[ecu.code]]\ncode = \"P0712\"\nstored = true\n"
      "[[ecu.code]]\ncode = \"P0713\"\nstored = true\n[[ecu.code]]\ncode = \"P0714\"\npending = true\n";
  Unit unit(with_memory(std::string(kJ1979) + "\nmonitors = \"07 65 E5\"", three));
  EXPECT_EQ(unit.ask("01 01"), "4101830765E5");
  EXPECT_EQ(Unit(with_memory(std::string(kJ1979) + "\nlamp = false", three)).ask("01 01"), "41010307E500");
}

TEST(MonitorStatus, WithoutCodesIsTheQuietOne) {
  EXPECT_EQ(Unit(with_memory(kJ1979, "")).ask("01 01"), "41010007E500");
}

TEST(MonitorStatus, TheLampComesOnAgainWithACodeThatSetsAfterClearing) {
  for (const char* const said : {"", "\nlamp = true\n"}) {
    Unit unit(with_memory(std::string(kJ1979) + said, "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n"));
    std::string lamps = unit.ask("01 01").substr(4, 2);
    unit.happens(CodesCleared{});
    lamps += unit.ask("01 01").substr(4, 2);
    unit.happens(CodeSets{0});
    EXPECT_EQ(lamps + unit.ask("01 01").substr(4, 2), "810081") << said;
  }
}

TEST(Counters, RunOnFromWhatTheScenarioNames) {
  Unit unit(
      with_memory(std::string(kJ1979) +
                      "\ndistance_since_clear_km = 1000\nwarm_ups_since_clear = 9\n"
                      "time_since_clear_min = 291\ndistance_with_lamp_km = 100\ntime_with_lamp_min = 16",
                  "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n"));
  // SAE J1979 PIDs 31, 30, 4E, 21, 4D: 1000 km, 9, 291 min, 100 km, 16 min. Debian's tshark and scapy agree on these bytes.
  EXPECT_EQ(unit.ask("01 31 30 4E 21 4D"),
            "41"
            "3103E8"
            "3009"
            "4E0123"
            "210064"
            "4D0010");
  unit.drives(60, std::chrono::minutes{30});
  EXPECT_EQ(unit.ask("01 31 4E 21 4D"),
            "41"
            "310406"
            "4E0141"
            "210082"
            "4D002E");
}

TEST(Counters, WithTheLampStandStillWhileItIsOff) {
  Unit unit(with_memory(std::string(kJ1979) + "\ndistance_with_lamp_km = 100",
                        "[[ecu.code]]\ncode = \"P0711\"\nstored = true\nthere = false\n"));
  unit.drives(60, std::chrono::minutes{10});
  EXPECT_EQ(unit.ask("01 21"), "41210064");
  unit.happens(CodeSets{0});
  unit.drives(60, std::chrono::minutes{5});
  EXPECT_EQ(unit.ask("01 21"), "41210069");
  unit.happens(CodeGoes{0});
  unit.drives(60, std::chrono::minutes{10});
  EXPECT_EQ(unit.ask("01 21"), "41210069");
}

TEST(CodesOfAUnit, SetAndChangeAndGo) {
  Unit unit(with_memory(
      "services = [\"J1979\", \"ISO 14229\"]",
      "[[ecu.code]]\ncode = \"P0711-1F\"\nstatus = 0x2F\nthere = false\nfreeze_frame = [{ pid = 0x31 }]\n"
      "extended = [{ record = 1, hex = \"07\" }]\n"));
  EXPECT_EQ(unit.ask("03"), "4300");
  EXPECT_EQ(unit.ask("19 06 07 11 1F FF"), "590607111F00");
  EXPECT_EQ(unit.ask("02 02 00"), "4202000000") << "a code that is not there has no freeze frame";
  unit.drives(60, std::chrono::minutes{7});
  unit.happens(CodeSets{0});
  unit.drives(60, std::chrono::minutes{7});
  EXPECT_EQ(unit.ask("03"), "43010711");
  EXPECT_EQ(unit.ask("07"), "47010711");
  EXPECT_EQ(unit.ask("02 31 00"), "4231000007") << "as it was when the code set";
  EXPECT_EQ(unit.ask("19 06 07 11 1F FF"), "590607111F2F0107");
  unit.happens(CodeChanges{0, 0x28, true});
  EXPECT_EQ(unit.ask("19 02 FF"), "5902FF07111F28");
  EXPECT_EQ(unit.ask("07"), "4700");
  EXPECT_EQ(unit.ask("0A"), "4A010711");
  unit.happens(CodeGoes{0});
  EXPECT_EQ(unit.ask("03"), "4300");
  EXPECT_EQ(unit.ask("0A"), "4A00");
  EXPECT_EQ(unit.ask("02 02 00"), "4202000000");
  EXPECT_EQ(unit.ask("19 02 FF"), "5902FF");
}

TEST(CodesOfAUnit, ClearedElsewhereLeaveTheTracesOfIt) {
  Unit unit(with_memory(
      "services = [\"J1979\", \"ISO 14229\"]\nmonitors = \"07 E5 00\"\ndistance_since_clear_km = 5000\n"
      "time_since_clear_min = 900\nwarm_ups_since_clear = 40",
      "[[ecu.code]]\ncode = \"P0711-1F\"\nstatus = 0x2F\npermanent = true\nfreeze_frame = [{ pid = 5 }]\n"
      "[[ecu.code]]\ncode = \"P0741-00\"\nstatus = 0x24\n"));
  EXPECT_EQ(unit.ask("01 01 31 30 4E"),
            "41"
            "018107E500"
            "311388"
            "3028"
            "4E0384");
  unit.happens(CodesCleared{});
  // SAE J1979: lamp off, no code counted, every monitor there is not ready; distance, time and warm-ups begin at zero. The
  // permanent code stays. ISO 14229-1: the status is 50, tests not completed.
  EXPECT_EQ(unit.ask("01 01 31 30 4E"),
            "41"
            "010077E5E5"
            "310000"
            "3000"
            "4E0000");
  EXPECT_EQ(unit.ask("03"), "4300");
  EXPECT_EQ(unit.ask("07"), "4700");
  EXPECT_EQ(unit.ask("0A"), "4A010711");
  EXPECT_EQ(unit.ask("02 02 00"), "4202000000");
  EXPECT_EQ(unit.ask("19 02 AF"), "5902FF");
  EXPECT_EQ(unit.ask("19 02 50"),
            "5902FF"
            "07111F50"
            "07410050");
  unit.drives(60, std::chrono::minutes{12});
  EXPECT_EQ(unit.ask("01 31 4E"),
            "41"
            "31000C"
            "4E000C");
}

TEST(FaultCodeConversions, OfAScenarioAreThoseOfTheStandard) {
  // mdabrowski1990/uds, dtc.rst: 56789A is C1678-9A, A5B6C7 is B25B6-C7, FFFFFF is U3FFF-FF, 000000 is P0000-00.
  Unit unit(with_memory(
      "services = [\"ISO 14229\"]",
      "[[ecu.code]]\ncode = \"C1678-9A\"\nstatus = 1\n[[ecu.code]]\ncode = \"B25B6-C7\"\nstatus = 1\n"
      "[[ecu.code]]\ncode = \"U3FFF-FF\"\nstatus = 1\n[[ecu.code]]\ncode = \"P0000-00\"\nstatus = 1\n"));
  EXPECT_EQ(unit.ask("19 02 01"),
            "5902FF"
            "56789A01"
            "A5B6C701"
            "FFFFFF01"
            "00000001");
}

std::string hundred_and_twenty() {
  std::string codes;
  for (int i = 0; i < 120; ++i) {
    const std::uint16_t code = static_cast<std::uint16_t>(0x0700 + i);
    codes += "[[ecu.code]]\ncode = \"" + text_of(J2012Code{code, 0x1F}) + "\"\nstatus = 0x0C\n";
  }
  return codes;
}

TEST(FaultMemory, OfAHundredAndTwentyCodesComesWhole) {
  testing_vehicle::Bench bench(with_memory("services = [\"J1979\", \"ISO 14229\"]", hundred_and_twenty()));
  for (const auto& [request, length, frames] : {std::tuple{"01 03 CC CC CC CC CC CC", 2 + 240, 34},
                                                std::tuple{"03 19 02 08 CC CC CC CC", 3 + 480, 69}}) {
    bench.send(0x7E1, request);
    bench.wait(std::chrono::milliseconds(50));
    bench.send(0x7E1, "30 00 00 CC CC CC CC CC");
    bench.wait(std::chrono::seconds(1));
    const auto heard = bench.heard();
    ASSERT_EQ(heard.size(), static_cast<std::size_t>(1 + frames));
    // ISO 15765-2: a first frame carries 6 bytes, each consecutive frame 7.
    EXPECT_EQ((length - 6 + 6) / 7, frames);
    const unsigned announced = static_cast<unsigned>(std::stoul(heard[0].substr(5, 3), nullptr, 16));
    EXPECT_EQ(announced, static_cast<unsigned>(length));
  }
}

TEST(FaultMemory, ASupplyThatFallsIsSeenInTheModuleVoltage) {
  // SAE J1979 PID 42, 0.001 V.
  testing_vehicle::Bench bench(with_memory(kJ1979, "",
                                           "[[event]]\nat_s = 1\nwhat = \"supply_voltage\"\nvolts = 9.2\n"
                                           "[[event]]\nat_s = 2\nwhat = \"supply_usual\"\n"));
  const auto voltage = [&bench] {
    bench.send(0x7E1, "02 01 42 CC CC CC CC CC");
    bench.wait(std::chrono::milliseconds(100));
    return bench.heard();
  };
  EXPECT_THAT(voltage(), testing::ElementsAre("7E9#0441423778CCCCCC"));  // 14.2 V
  bench.wait(std::chrono::seconds(1));
  EXPECT_THAT(voltage(), testing::ElementsAre("7E9#04414223F0CCCCCC"));  // 9.2 V
  bench.wait(std::chrono::seconds(1));
  EXPECT_THAT(voltage(), testing::ElementsAre("7E9#0441423778CCCCCC"));
}

TEST(FaultMemory, ACodeMayLoseEveryBitOfItsStatus) {
  testing_vehicle::Bench bench(
      with_memory(kJ1979, "[[ecu.code]]\ncode = \"P0711\"\nstored = true\n",
                  "[[event]]\nat_s = 1\nwhat = \"code_changes\"\necu = \"transmission\"\ncode = "
                  "\"P0711\"\nstatus = 0\n"));
  bench.wait(std::chrono::seconds(2));
  bench.send(0x7DF, "01 03 CC CC CC CC CC CC");
  bench.wait(std::chrono::milliseconds(100));
  EXPECT_THAT(bench.heard(), testing::ElementsAre("7E9#024300CCCCCCCCCC"));
}

TEST(FaultMemory, EventsOfAScenarioReachIt) {
  testing_vehicle::Bench bench(
      with_memory(kJ1979, "[[ecu.code]]\ncode = \"P0711\"\nstored = true\nthere = false\n",
                  "[[event]]\nat_s = 1\nwhat = \"code_sets\"\necu = \"transmission\"\ncode = \"P0711\"\n"
                  "[[event]]\nat_s = 2\nwhat = \"code_changes\"\necu = \"transmission\"\ncode = "
                  "\"P0711\"\nstatus = 0x04\n"
                  "[[event]]\nat_s = 3\nwhat = \"code_goes\"\necu = \"transmission\"\ncode = \"P0711\"\n"
                  "[[event]]\nat_s = 4\nwhat = \"code_sets\"\necu = \"transmission\"\ncode = \"P0711\"\n"
                  "[[event]]\nat_s = 5\nwhat = \"codes_cleared\"\n"
                  "[[event]]\nat_s = 6\nwhat = \"code_sets\"\necu = \"transmission\"\ncode = \"P0711\"\n"
                  "[[event]]\nat_s = 7\nwhat = \"codes_cleared\"\necu = \"transmission\"\n"));
  const auto stored = [&bench](std::string_view request) {
    bench.send(0x7DF, request);
    bench.wait(std::chrono::milliseconds(100));
    const auto heard = bench.heard();
    bench.wait(std::chrono::milliseconds(900));
    return heard;
  };
  constexpr char kStored[] = "01 03 CC CC CC CC CC CC";
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#024300CCCCCCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#0443010711CCCCCC"));
  EXPECT_THAT(stored("01 07 CC CC CC CC CC CC"), testing::ElementsAre("7E9#0447010711CCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#024300CCCCCCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#0443010711CCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#024300CCCCCCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#0443010711CCCCCC"));
  EXPECT_THAT(stored(kStored), testing::ElementsAre("7E9#024300CCCCCCCCCC"));
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 0U);
}

}  // namespace
}  // namespace sumplog
