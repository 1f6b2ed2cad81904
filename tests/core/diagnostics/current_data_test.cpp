#include "core/diagnostics/interpreter_fixture.h"

namespace sumplog {
namespace {

using testing::Texts;

class CurrentData : public testing::InterpreterTest {
 protected:
  CurrentData() : InterpreterTest({testing::shipped("obd-generic")}) {}
  Texts single(std::string_view pid, std::string_view data) {
    events_.clear();
    exchange("01" + std::string(pid), "41" + std::string(pid) + std::string(data));
    EXPECT_EQ(losses(), Texts{});
    return readings();
  }
};

// --- normal ---

TEST_F(CurrentData, SampleBytesGiveTheValuesOfWiresharkAndScapy) {
  // tshark 4.0.17 (packet-obd-ii.c) and scapy 2.5.0 agree on each, unless noted.
  EXPECT_EQ(single("04", "80"), Texts{"engine_load 50.2 %"});
  EXPECT_EQ(single("05", "7B"), Texts{"coolant_temperature 83 degC"});
  EXPECT_EQ(single("0B", "65"), Texts{"manifold_absolute_pressure 101 kPa"});
  EXPECT_EQ(single("0C", "1AF8"), Texts{"engine_speed 1726.00 rpm"});
  EXPECT_EQ(single("0C", "0E70"), Texts{"engine_speed 924.00 rpm"});  // docs.racket-lang.org/obd2
  EXPECT_EQ(single("0D", "32"), Texts{"vehicle_speed 50 km/h"});
  EXPECT_EQ(single("0F", "41"), Texts{"intake_air_temperature 25 degC"});
  EXPECT_EQ(single("42", "3521"), Texts{"module_voltage 13.601 V"});
  EXPECT_EQ(single("46", "46"), Texts{"ambient_temperature 30 degC"});
  EXPECT_EQ(single("5C", "6E"), Texts{"engine_oil_temperature 70 degC"});
}

TEST_F(CurrentData, AReadingCarriesItsUnitItsTimeAndItsStep) {
  exchange("010C", "410C1AF8", standard_id(0x7E9));
  const ReadingEvent& r = reading();
  EXPECT_EQ(r.at, kAt + std::chrono::milliseconds{20});
  EXPECT_EQ(r.bus, BusName("can0"));
  EXPECT_EQ(r.ecu, "7E9");
  EXPECT_EQ(r.quality, Quality::measured);
  EXPECT_DOUBLE_EQ(r.step, 0.25);
}

TEST_F(CurrentData, NoStandardParameterIsEverTheFluidTemperature) {
  // Wireshark's name table and scapy's parameter set 00…C0 hold no transmission temperature.
  for (int pid = 1; pid <= 0xFF; ++pid) {
    const std::uint8_t byte = static_cast<std::uint8_t>(pid);
    for (std::size_t length = 1; length <= 5; ++length) {
      std::vector<std::uint8_t> answer(2 + length, 0x50);
      answer[0] = 0x41;
      answer[1] = byte;
      Exchange e;
      e.unit = Endpoint{BusName("can0"), standard_id(0x7E9), std::nullopt};
      e.asked = {0x01, byte};
      e.response = answer;
      e.result = ExchangeResult::answered;
      interpreter_.on_exchange(e, events_);
    }
  }
  EXPECT_GT(readings().size(), 30U);
  for (const std::string& text : readings()) EXPECT_FALSE(text.starts_with("fluid_temperature")) << text;
}

// --- several parameters in one answer ---

TEST_F(CurrentData, SeveralParametersAreWalkedByTheirLengths) {
  // The frame that scapy 2.5.0 decodes as 83, 1726, 50, 25, 20.0 and 70.
  exchange("01050C0D0F115C", "41057B0C1AF80D320F41 1133 5C6E");
  EXPECT_EQ(losses(), Texts{});
  const Texts all = readings();
  EXPECT_EQ(all, (Texts{"coolant_temperature 83 degC", "engine_speed 1726.00 rpm", "vehicle_speed 50 km/h",
                        "intake_air_temperature 25 degC", all[4], "engine_oil_temperature 70 degC"}));
  EXPECT_NE(all[4].find(" 20.0 %"), std::string::npos) << all[4];
}

TEST_F(CurrentData, TheOrderOfTheAnswerNeedNotBeThatOfTheRequest) {
  exchange("010C0D05", "41057B0D320C1AF8");
  EXPECT_EQ(readings().size(), 3U);
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(CurrentData, AParameterThatTheUnitDoesNotHaveIsLeftOutWithoutALoss) {
  exchange("010C0D05", "410C1AF8");
  EXPECT_EQ(readings(), Texts{"engine_speed 1726.00 rpm"});
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(CurrentData, AirFlowHasTwoBytesSoThatWhatFollowsItIsRead) {
  // scapy 2.5.0 takes one byte for 10 and loses the rest; Wireshark packet-obd-ii.c has two.
  exchange("01100C", "41100AF00C1AF8");
  EXPECT_EQ(losses(), Texts{});
  ASSERT_FALSE(readings().empty());
  EXPECT_EQ(readings().back(), "engine_speed 1726.00 rpm");
}

TEST_F(CurrentData, AParameterThatWasNotAskedForEndsTheWalkAndIsALoss) {
  exchange("010C0D", "410C1AF8057B0D32");
  EXPECT_EQ(readings(), Texts{"engine_speed 1726.00 rpm"});
  EXPECT_EQ(losses(), Texts{"answer holds a parameter that was not asked for"});
}

TEST_F(CurrentData, AParameterThatComesTwiceEndsTheWalkAndIsALoss) {
  exchange("010C0D", "410D320D33");
  EXPECT_EQ(readings(), Texts{"vehicle_speed 50 km/h"});
  EXPECT_EQ(losses(), Texts{"answer holds a parameter that was not asked for"});
}

TEST_F(CurrentData, AnAnswerThatEndsInsideAParameterIsALoss) {
  exchange("010D0C", "410D320C1A");
  EXPECT_EQ(readings(), Texts{"vehicle_speed 50 km/h"});
  EXPECT_EQ(losses(), Texts{"answer ends inside a parameter"});
}

TEST_F(CurrentData, AParameterOfUnknownLengthInCompanyIsALoss) {
  exchange("010D7F0C", "410D327F00010C1AF8");
  EXPECT_EQ(readings(), Texts{"vehicle_speed 50 km/h"});
  EXPECT_EQ(losses(), Texts{"answer holds a parameter of unknown length"});
}

TEST_F(CurrentData, AParameterThatNoDecoderNamesIsPassedOver) {
  exchange("010107", "410183076 5E5");
  exchange("017F", "417F0001020304");
  EXPECT_EQ(readings(), Texts{});
  EXPECT_EQ(losses(), Texts{});
}

TEST_F(CurrentData, AWrongLengthIsALossThatNamesTheSignal) {
  exchange("010C", "410C1A");
  exchange("010C", "410C1AF800");
  exchange("0105", "4105");
  EXPECT_EQ(readings(), Texts{});
  EXPECT_EQ(losses(), (Texts{"engine_speed: wrong length", "engine_speed: wrong length",
                             "coolant_temperature: wrong length"}));
}

// --- no value ---

TEST_F(CurrentData, ARefusalIsAReadingWithoutValueThatSaysSoAndSilenceBringsNothing) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), standard_id(0x7E8), std::nullopt};
  e.asked = {0x01, 0x0C};
  e.result = ExchangeResult::refused;
  e.negative_code = 0x31;
  interpreter_.on_exchange(e, events_);
  ASSERT_EQ(events_.size(), 1U);
  const auto& refused = std::get<ReadingEvent>(events_[0]);
  EXPECT_EQ(refused.signal, "engine_speed");
  EXPECT_EQ(refused.value, std::nullopt);
  EXPECT_EQ(refused.quality, Quality::suspect);
  EXPECT_EQ(refused.why, "the unit refuses it (7F code 31)");
  e.negative_code = 0x7F;  // ISO 14229-1: serviceNotSupportedInActiveSession
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(std::get<ReadingEvent>(events_.back()).why, "not readable without another session");
  e.result = ExchangeResult::silent;
  interpreter_.on_exchange(e, events_);
  EXPECT_EQ(events_.size(), 2U);
}

TEST_F(CurrentData, FaultServicesBringNoReading) {
  exchange("03", "430107110218");
  exchange("020C00", "420C001AF8");
  EXPECT_TRUE(events_.empty());
}

// --- which parameters a unit has ---

TEST_F(CurrentData, TheSupportBitmapListsTheParametersOfTheUnit) {
  // tshark 4.0.17 and docs.racket-lang.org/obd2 (190 31 168 19) give the same list.
  exchange("0100", "4100BE1FA813");
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().pids, (Texts{"01", "03", "04", "05", "06", "07", "0C", "0D", "0E", "0F", "10",
                                           "11", "13", "15", "1C", "1F", "20"}));
  EXPECT_EQ(vehicle().front().ecu, "7E8");
}

TEST_F(CurrentData, FurtherBitmapsAddToTheList) {
  exchange("0100", "410000000001");
  exchange("0140", "41406C000010");  // tshark 4.0.17: 42 43 45 46 5C
  ASSERT_EQ(vehicle().size(), 2U);
  EXPECT_EQ(vehicle().back().pids, (Texts{"20", "42", "43", "45", "46", "5C"}));
}

TEST_F(CurrentData, TheSameBitmapAgainIsNoNews) {
  exchange("0100", "4100BE1FA813");
  exchange("0100", "4100BE1FA813");
  exchange("0120", "412000000000");
  EXPECT_EQ(vehicle().size(), 1U);
}

TEST_F(CurrentData, TwoUnitsHaveTwoLists) {
  exchange("0100", "410080000000", standard_id(0x7E8));
  exchange("0100", "410040000000", standard_id(0x7E9));
  ASSERT_EQ(vehicle().size(), 2U);
  EXPECT_EQ(vehicle()[0].pids, Texts{"01"});
  EXPECT_EQ(vehicle()[1].pids, Texts{"02"});
}

TEST_F(CurrentData, TheLastBitOfTheLastBitmapMeansNothing) {
  exchange("01E0", "41E000000003");
  ASSERT_EQ(vehicle().size(), 1U);
  EXPECT_EQ(vehicle().front().pids, Texts{"FF"});
}

TEST_F(CurrentData, ABitmapOfAnotherLengthIsALoss) {
  exchange("0100", "4100BE1FA8");
  EXPECT_TRUE(vehicle().empty());
  EXPECT_EQ(losses(), Texts{"support bitmap: wrong length"});
}

TEST_F(CurrentData, SeveralBitmapsMayStandInOneAnswer) {
  exchange("01002040", "41000000000120000000014 06C000010");
  ASSERT_EQ(vehicle().size(), 3U);
  EXPECT_EQ(vehicle().back().pids, (Texts{"20", "40", "42", "43", "45", "46", "5C"}));
}

// --- frozen with a fault code ---

Exchange frozen(std::string_view answer) {
  Exchange e;
  e.unit = Endpoint{BusName("can0"), standard_id(0x7E8), std::nullopt};
  e.asked = isotp_words::bytes("020500");
  e.response = isotp_words::bytes(answer);
  e.result = ExchangeResult::answered;
  return e;
}

TEST_F(CurrentData, WhatIsFrozenIsReadAndAnAnswerThatIsCutShortGivesNothing) {
  const auto values = interpreter_.frozen_values(frozen("4205007B"));
  ASSERT_EQ(values.size(), 1U);
  EXPECT_EQ(values[0].signal, "coolant_temperature");
  EXPECT_EQ(values[0].value, 83);
  EXPECT_TRUE(interpreter_.frozen_values(frozen("420500")).empty());
}

TEST_F(CurrentData, WhatIsFrozenInAnotherLengthThanTheDecoderSaysGivesNothing) {
  // SAE J1979: parameter 05 has one byte.
  Decoder decoder;
  Signal& signal = decoder.signals.emplace_back();
  signal.name = "x_two_bytes";
  signal.source = PidSource{0x05};
  signal.length = 2;
  signal.bit_length = 16;
  EXPECT_TRUE(Interpreter({decoder}).frozen_values(frozen("4205007B")).empty());
}

}  // namespace
}  // namespace sumplog
