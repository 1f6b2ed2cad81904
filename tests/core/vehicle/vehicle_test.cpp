#include "core/vehicle/vehicle.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/diagnostics/vin.h"
#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using testing::ElementsAre;
using testing::IsEmpty;
using testing_vehicle::Bench;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;
using testing_vehicle::text_of_frame;

constexpr std::uint32_t kAll = 0x7DF;
constexpr std::uint32_t kEngine = 0x7E0;
constexpr std::uint32_t kTransmission = 0x7E1;

TEST(Vehicle, OneParameterIsASingleFrame) {
  Bench bench(scenario_text());
  bench.send(kAll, "02 01 05 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  // Debian's tshark on 7E8#0341057B…: engine coolant temperature 83 °C.
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#0341057BCCCCCCCC"));
}

TEST(Vehicle, EachUnitTellsItsOwnBitmap) {
  Bench bench(scenario_text());
  bench.send(kAll, "02 01 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), testing::UnorderedElementsAre("7E8#064100081A8001CC", "7E9#06410000080001CC"));
}

TEST(Vehicle, AnswersWithinP2) {
  // ISO 14229-2 and ISO 15765-4: P2 of the unit is at most 50 ms.
  Bench bench(scenario_text());
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(seconds(1));
  const auto frames = bench.bus.take_frames();
  ASSERT_EQ(frames.size(), 2U);
  EXPECT_LT(frames[1].at - frames[0].at, milliseconds(50));
  EXPECT_GT(frames[1].at - frames[0].at, milliseconds(1));
}

TEST(Vehicle, SeveralParametersNeedFlowControlAndComeInOneMessage) {
  Bench bench(scenario_text());
  bench.send(kEngine, "04 01 05 0D 0F CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#0741057B0D000F44"));
  bench.send(kEngine, "05 01 05 0D 0F 5C CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#100941057B0D000F"));
  bench.send(kEngine, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#21445C76CCCCCCCC"));
}

TEST(Vehicle, UnknownParametersAreLeftOutAndNothingLeftIsSilence) {
  Bench bench(scenario_text());
  bench.send(kEngine, "03 01 05 33 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#0341057BCCCCCCCC"));
  bench.send(kEngine, "02 01 33 CC CC CC CC CC");
  bench.wait(milliseconds(200));
  EXPECT_THAT(bench.heard(), IsEmpty());
}

TEST(Vehicle, VinComesInThreeFramesAndItsCheckDigitHolds) {
  Bench bench(scenario_text());
  bench.send(kAll, "02 09 02 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  // SAE J1979 on CAN: 20 bytes, 49 02, number of items, 17 characters.
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#1014490201305445"));
  bench.send(kEngine, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#2153544341523746", "7E8#22414B4530303031"));
  EXPECT_TRUE(vin_check_digit_holds("0TESTCAR7FAKE0001"));  // 49 CFR 565.15(c)
}

TEST(Vehicle, FlowControlAsksForBlocksAndSeparation) {
  Bench bench(scenario_text());
  bench.send(kEngine, "02 09 02 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  (void)bench.heard();
  bench.send(kEngine, "30 01 14 CC CC CC CC CC");  // one frame, STmin 20 ms
  bench.wait(milliseconds(200));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#2153544341523746"));
  bench.send(kEngine, "30 01 14 CC CC CC CC CC");
  bench.wait(milliseconds(200));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#22414B4530303031"));
}

TEST(Vehicle, WithoutFlowControlTheRestNeverComesAndTheUnitAnswersAgainLater) {
  Bench bench(scenario_text());
  bench.send(kEngine, "02 09 02 CC CC CC CC CC");
  bench.wait(milliseconds(1500));  // N_Bs is 1 s, ISO 15765-2
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#1014490201305445"));
  bench.send(kEngine, "02 01 05 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#0341057BCCCCCCCC"));
}

TEST(Vehicle, CalibrationNumbersComeWithTheirCount) {
  Bench bench(scenario_text());
  bench.send(kAll, "02 09 06 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#074906011791BC82"));
  bench.send(kEngine, "02 09 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  // Types 02, 04, 06 and 0A: 0101 0100 0100 0000.
  EXPECT_THAT(bench.heard(), ElementsAre("7E8#06490054400000CC"));
}

TEST(Vehicle, DataIdentifierGivesTheFluidTemperature) {
  Bench bench(scenario_text());
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#04621A054CCCCCCC"));  // 36 °C + 40 = 4C hex
}

TEST(Vehicle, NegativeResponsesCarryTheirReason) {
  // ISO 14229-1: 31 request out of range, 13 incorrect length, 11 service not supported; 7F as the scenario says.
  Bench bench(scenario_text());
  const auto ask = [&bench](std::string_view request) {
    bench.send(kTransmission, request);
    bench.wait(milliseconds(50));
    return bench.heard();
  };
  EXPECT_THAT(ask("03 22 12 34 CC CC CC CC"), ElementsAre("7E9#037F2231CCCCCCCC"));
  EXPECT_THAT(ask("02 22 1A CC CC CC CC CC"), ElementsAre("7E9#037F2213CCCCCCCC"));
  EXPECT_THAT(ask("02 21 05 CC CC CC CC CC"), ElementsAre("7E9#037F2111CCCCCCCC"));
  EXPECT_THAT(ask("03 22 1A 07 CC CC CC CC"), ElementsAre("7E9#037F227FCCCCCCCC"));
  EXPECT_THAT(ask("01 09 CC CC CC CC CC CC"), ElementsAre("7E9#037F0913CCCCCCCC"));
}

TEST(Vehicle, KnownAndUnknownIdentifierTogetherGiveTheKnownOne) {
  Bench bench(scenario_text());
  bench.send(kTransmission, "05 22 12 34 1A 05 CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#04621A054CCCCCCC"));
}

TEST(Vehicle, FunctionalRequestsGetNoRefusalThatIsOnlyNotMine) {
  // ISO 14229-1: 11, 12, 31, 7E and 7F are not sent to a functional request.
  Bench bench(scenario_text());
  for (const char* request :
       {"03 22 12 34 CC CC CC CC", "02 21 05 CC CC CC CC CC", "03 22 1A 07 CC CC CC CC"}) {
    bench.send(kAll, request);
    bench.wait(milliseconds(200));
    EXPECT_THAT(bench.heard(), IsEmpty()) << request;
  }
}

TEST(Vehicle, ServicesThatChangeSomethingAreRefusedAndCounted) {
  Bench bench(scenario_text());
  // 04 and 14 clear codes, 2E writes, 10 and 3E open and hold sessions, 27, 31: ISO 14229-1, SAE J1979.
  const std::vector<std::string> requests{"01 04",    "04 14 FF FF FF", "04 2E 1A 05 50", "02 10 03",
                                          "02 3E 00", "02 27 01",       "04 31 01 02 03"};
  for (const std::string& request : requests) {
    bench.send(kTransmission, request);
    bench.wait(milliseconds(50));
    const std::string service = request.substr(3, 2);
    EXPECT_THAT(bench.heard(), ElementsAre("7E9#037F" + service + "11CCCCCCCC"));
  }
  EXPECT_EQ(bench.vehicle.forbidden_requests(), requests.size());
}

TEST(Vehicle, ForbiddenRequestToAllIsCountedOnceAndNotAnswered) {
  Bench bench(scenario_text());
  bench.send(kAll, "01 04 CC CC CC CC CC CC");
  bench.send(0x7E5, "01 04 CC CC CC CC CC CC");  // a unit that is not there
  bench.wait(milliseconds(200));
  EXPECT_THAT(bench.heard(), IsEmpty());
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 2U);
}

TEST(Vehicle, ForbiddenRequestOfSeveralFramesIsTakenWholeAndRefused) {
  Bench bench(scenario_text());
  bench.send(kTransmission, "10 0A 2E F1 90 41 42 43");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#300000")));
  bench.send(kTransmission, "21 44 45 46 47 CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#037F2E11CCCCCCCC"));
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 1U);
}

TEST(Vehicle, ARequestThatNeverBecomesWholeIsForgotten) {
  Bench bench(scenario_text());
  for (const std::uint32_t to : {kTransmission, 0x7E5U}) {  // 7E5 is nobody, and is counted all the same
    bench.send(to, "10 0A 2E F1 90 41 42 43");
    bench.wait(seconds(2));  // ISO 15765-2: N_Cr is 1 s
    bench.send(to, "21 44 45 46 47 CC CC CC");
    bench.wait(milliseconds(50));
  }
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 0U);
  (void)bench.heard();
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#04621A05")));
  bench.send(0x7E5U, "10 0A 2E F1 90 41 42 43");
  bench.send(0x7E5U, "21 44 45 46 47 CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 1U);
}

TEST(Vehicle, WhileARequestComesInPiecesTheAnswerToTheOneBeforeIsSent) {
  Bench bench(scenario_text());
  for (const std::uint32_t to :
       {kTransmission, 0x7E5U}) {  // 7E5 is nobody: its pieces are waited for all the same
    bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
    bench.send(to, "10 0A 2E F1 90 41 42 43");
    bench.wait(milliseconds(50));
    EXPECT_THAT(bench.heard(), testing::Contains(testing::StartsWith("7E9#04621A05"))) << to;
    bench.send(to, "21 44 45 46 47 CC CC CC");
    bench.wait(milliseconds(50));
    (void)bench.heard();
  }
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 2U);
}

TEST(Vehicle, ASilentUnitDoesNotEvenAskForTheRestOfARequest) {
  Bench bench(scenario_text("[[event]]\nat_s = 0\nwhat = \"ecu_silent\"\necu = \"transmission\"\n"));
  bench.send(kTransmission, "10 0A 2E F1 90 41 42 43");
  bench.wait(milliseconds(100));
  EXPECT_THAT(bench.heard(), IsEmpty());
}

TEST(Vehicle, AUnitThatIsStillSendingTakesNoOtherRequest) {
  Bench bench(scenario_text());
  bench.send(kEngine, "02 09 02 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  (void)bench.heard();
  bench.send(kEngine, "02 01 05 CC CC CC CC CC");  // before its flow control
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), IsEmpty());
}

TEST(Vehicle, TheVinIsReadByItsIdentifierTooWhereTheUnitTellsIt) {
  // ISO 14229-1: F190 is the VIN.
  Bench bench(scenario_text());
  bench.send(kEngine, "03 22 F1 90 CC CC CC CC");
  bench.wait(milliseconds(50));
  bench.send(kEngine, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(),
              ElementsAre("7E8#101462F190305445", "7E8#2153544341523746", "7E8#22414B4530303031"));
  bench.send(kTransmission, "03 22 F1 90 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#037F2231CCCCCCCC"));
}

TEST(Vehicle, ARequestOfTheWrongLengthIsRefused) {
  Bench bench(scenario_text());
  for (const char* request : {"01 01", "01 22", "02 22 1A", "04 22 1A 05 1A"}) {
    bench.send(kTransmission, request);
    bench.wait(milliseconds(50));
    const auto heard = bench.heard();
    ASSERT_EQ(heard.size(), 1U) << request;
    EXPECT_EQ(heard[0].substr(8, 2), std::string(request).substr(3, 2));
    EXPECT_EQ(heard[0].substr(10, 2), "13") << request;
  }
}

TEST(Vehicle, ANameWithoutAHyphenIsTheAcronymAlone) {
  std::string text = scenario_text();
  text.replace(text.find("TCM-TransmissionCtl"), 19, "TCM");
  Bench bench(text);
  bench.send(kTransmission, "02 09 0A CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#1017490A0154434D"));
  bench.send(kTransmission, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(),
              ElementsAre("7E9#21002D0000000000", "7E9#2200000000000000", "7E9#23000000CCCCCCCC"));
}

TEST(Vehicle, ASelectorWithoutCodesIsTheNumberOfItsPosition) {
  Bench bench(
      scenario_text("[[ecu.did]]\ndid = 0x1A06\nsignal = \"selector_position\"\n"
                    "[[event]]\nat_s = 0\nwhat = \"selector\"\nposition = \"N\"\n"));
  bench.send(kTransmission, "03 22 1A 06 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#04621A0602CCCCCC"));
}

TEST(Vehicle, ReadingCountsNothingForbidden) {
  Bench bench(scenario_text());
  for (const char* request : {"02 01 05", "02 09 02", "03 22 1A 05", "01 03", "02 19 0A"}) {
    bench.send(kEngine, request);
    bench.wait(seconds(2));
  }
  EXPECT_EQ(bench.vehicle.forbidden_requests(), 0U);
  EXPECT_EQ(bench.vehicle.requests().at(0x22), 1U);
}

TEST(Vehicle, ResponsePendingComesAsOftenAsTheScenarioSays) {
  Bench bench(scenario_text(R"(
[[event]]
at_s = 0
what = "answers_pending"
ecu = "transmission"
service = 0x22
times = 2
every_s = 1.5
)"));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(seconds(2));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#037F2278CCCCCCCC", "7E9#037F2278CCCCCCCC"));
  bench.wait(milliseconds(1100));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#04621A05")));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#04621A05")));
}

TEST(Vehicle, LostConsecutiveFrameIsThatOfTheNextSuchAnswerOnly) {
  Bench bench(scenario_text(R"(
[[event]]
at_s = 0
what = "loses_consecutive_frame"
ecu = "engine"
service = 0x09
index = 1
)"));
  const auto vin = [&bench] {
    bench.send(kEngine, "02 09 02 CC CC CC CC CC");
    bench.wait(milliseconds(50));
    bench.send(kEngine, "30 00 00 CC CC CC CC CC");
    bench.wait(milliseconds(50));
    return bench.heard();
  };
  EXPECT_THAT(vin(), ElementsAre("7E8#1014490201305445", "7E8#22414B4530303031"));
  EXPECT_THAT(vin(), ElementsAre("7E8#1014490201305445", "7E8#2153544341523746", "7E8#22414B4530303031"));
}

TEST(Vehicle, SilentUnitSaysNothingUntilItSpeaksAgain) {
  Bench bench(scenario_text(R"(
[[event]]
at_s = 1
what = "ecu_silent"
ecu = "transmission"
[[event]]
at_s = 2
what = "ecu_speaks"
ecu = "transmission"
)"));
  bench.wait(milliseconds(1500));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.send(kEngine, "02 01 05 CC CC CC CC CC");
  bench.wait(milliseconds(400));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E8#0341")));
  bench.wait(milliseconds(200));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#0462")));
}

TEST(Vehicle, UnitThatStartsAnewForgetsWhatItWasAsked) {
  Bench bench(scenario_text(R"(
[[event]]
at_s = 1.005
what = "ecu_resets"
ecu = "transmission"
takes_s = 1
)"));
  bench.wait(seconds(1));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");  // the answer would take 12 ms
  bench.wait(milliseconds(1200));
  EXPECT_THAT(bench.heard(), IsEmpty());
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#0462")));
}

TEST(Vehicle, RequestToABusyUnitIsIgnoredAndCounted) {
  Bench bench(scenario_text());
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.send(kTransmission, "02 01 0D CC CC CC CC CC");
  bench.wait(milliseconds(100));
  EXPECT_THAT(bench.heard(), ElementsAre(testing::StartsWith("7E9#0462")));
  EXPECT_EQ(bench.vehicle.units().at(1).ignored_while_busy(), 1U);
}

TEST(Vehicle, TwoUnitsInterleaveTheirConsecutiveFrames) {
  Bench bench(scenario_text());
  bench.send(kAll, "02 09 0A CC CC CC CC CC");
  bench.wait(milliseconds(50));
  bench.send(kEngine, "30 00 00 CC CC CC CC CC");
  bench.send(kTransmission, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  int changes = 0;
  std::string before;
  std::vector<std::string> engine;
  for (const std::string& frame : bench.heard()) {
    const std::string id = frame.substr(0, 3);
    if (id == "7E8") engine.push_back(frame);
    if (frame[4] == '2') {
      if (!before.empty() && id != before) ++changes;
      before = id;
    }
  }
  EXPECT_GE(changes, 2);
  // scapy: ecu_names=['ECM\x00-EngineControl'].
  EXPECT_THAT(engine, ElementsAre("7E8#1017490A0145434D", "7E8#21002D456E67696E", "7E8#2265436F6E74726F",
                                  "7E8#236C0000CCCCCCCC"));
}

TEST(Vehicle, DeadSensorShowsAsItsPattern) {
  Bench bench(scenario_text(R"(
[[event]]
at_s = 1
what = "sensor_dead"
)"));
  bench.wait(seconds(2));
  bench.send(kTransmission, "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("7E9#04621A05FFCCCCCC"));
}

TEST(Vehicle, ExtendedIdentifiersFollowIso15765) {
  std::string text = scenario_text({}, "identifiers = 29");
  for (const auto& [from, to] : {std::pair{"0x7E0", "0x18DA10F1"}, std::pair{"0x7E8", "0x18DAF110"},
                                 std::pair{"0x7E1", "0x18DA18F1"}, std::pair{"0x7E9", "0x18DAF118"}}) {
    text.replace(text.find(from), 5, to);
  }
  Bench bench(text);
  bench.send(extended_id(0x18DB33F1), "02 01 05 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  bench.send(extended_id(0x18DA18F1), "03 22 1A 05 CC CC CC CC");
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(), ElementsAre("18DB33F1#020105CCCCCCCCCC", "18DAF110#0341057BCCCCCCCC",
                                         "18DA18F1#03221A05CCCCCCCC", "18DAF118#04621A054CCCCCCC"));
}

TEST(Vehicle, FdAnswersUseLongSingleFrames) {
  Bench bench(scenario_text({}, "frames = \"fd\""));
  bench.send(kEngine, "02 09 02 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  const auto frames = bench.port.take_heard();
  ASSERT_EQ(frames.size(), 2U);
  EXPECT_TRUE(frames[1].fd);
  EXPECT_TRUE(frames[1].bit_rate_switch);
  // ISO 15765-2, escape of SF_DL: 00 14 and 20 bytes, padded to the next length of CAN FD, 24.
  EXPECT_EQ(text_of_frame(frames[1]), "7E8#001449020130544553544341523746414B4530303031CCCC");
}

TEST(Vehicle, FdAnswerBeyondOneFrameIsSegmented) {
  const std::string long_text(200, 'A');
  Bench bench(scenario_text("[[ecu.did]]\ndid = 0xF1A0\ntext = \"" + long_text + "\"\n", "frames = \"fd\""));
  bench.send(kTransmission, "03 22 F1 A0 CC CC CC CC");
  bench.wait(milliseconds(50));
  bench.send(kTransmission, "30 00 00 CC CC CC CC CC");
  bench.wait(milliseconds(50));
  const auto heard = bench.heard();
  ASSERT_EQ(heard.size(), 4U);  // 203 bytes: 62 + 63 + 63 + 15
  EXPECT_THAT(heard[0], testing::StartsWith("7E9#10CB62F1A0"));
  EXPECT_EQ(heard[1].substr(0, 8), "7E9#2141");
  EXPECT_EQ(heard[3].substr(0, 6), "7E9#23");
  EXPECT_EQ(heard[3].size(), 4 + 2 * 16U);  // 1 + 15 bytes are a length of CAN FD
}

TEST(Vehicle, ExtendedAddressingPutsTheAddressInFront) {
  Bench bench(scenario_text(R"([[ecu]]
id = "third"
request = 0x6F1
response = 0x612
addressing = "extended"
request_address = 0x12
response_address = 0xF1
[[ecu.did]]
did = 0x1000
hex = "AB"
)"));
  bench.send(0x6F1, "12 03 22 10 00 CC CC CC");
  bench.send(0x6F1, "13 03 22 10 00 CC CC CC");  // another unit's
  bench.wait(milliseconds(50));
  EXPECT_THAT(bench.heard(),
              ElementsAre("6F1#1203221000CCCCCC", "6F1#1303221000CCCCCC", "612#F104621000ABCCCC"));
}

TEST(Vehicle, NothingOnAnEmptyBusWithoutRequests) {
  Bench bench(scenario_text());
  bench.wait(seconds(30));
  EXPECT_THAT(bench.heard(), IsEmpty());
}

}  // namespace
}  // namespace sumplog
