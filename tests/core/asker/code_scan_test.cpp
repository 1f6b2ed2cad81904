#include "core/asker/code_scan.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <string_view>

#include "core/isotp/frames.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;
using testing::Contains;
using testing::ElementsAre;
using testing::IsEmpty;
using testing::Not;

class CodeScanTest : public testing::Test {
 protected:
  /// What is asked next, "7DF 03"; all of it counts as done afterwards.
  std::vector<std::string> next() {
    std::vector<std::string> texts;
    for (const Task& task : scan.take(0, now)) {
      const auto payload = task.payload();
      const std::string to = task.target                     ? ecu_text(task.target->id, task.target->address)
                             : task.extended.value_or(false) ? "18DB33F1"
                                                             : "7DF";
      texts.push_back(to + " " + hex_text(payload.data(), payload.size()));
    }
    return texts;
  }
  std::vector<std::string> rest() {
    std::vector<std::string> all;
    while (!scan.finished(0))
      for (std::string& text : next()) all.push_back(std::move(text));
    return all;
  }
  void answers(std::uint32_t to, std::uint32_t unit, std::string_view asked, std::string_view response) {
    Exchange e;
    e.asked_at = e.ended_at = now;
    e.request = Endpoint{bus, CanId{to, to > 0x7FF}, std::nullopt};
    e.unit = Endpoint{bus, CanId{unit, unit > 0x7FF}, std::nullopt};
    e.asked = bytes(asked);
    e.response = bytes(response);
    e.result = e.response[0] == 0x7F ? ExchangeResult::refused : ExchangeResult::answered;
    if (e.result == ExchangeResult::refused) e.negative_code = e.response[2];
    scan.on_exchange(e);
  }
  /// Units that have answered before; true: to SAE J1979.
  void begin(std::map<std::uint32_t, bool> units) {
    std::map<Endpoint, bool> heard;
    for (const auto& [id, j1979] : units) heard[{bus, CanId{id, id > 0x7FF}, std::nullopt}] = j1979;
    scan = CodeScan({}, bus, heard, now);
  }

  BusName bus{"can0"};
  TimePoint now{1700000000s};
  CodeScan scan{{}, bus, {}, now};
};

TEST_F(CodeScanTest, AllUnitsAreAskedFirst) {
  begin({{0x7E8, true}});
  EXPECT_THAT(next(), ElementsAre("7DF 03", "7DF 07", "7DF 0A", "7DF 0101", "7DF 0131", "7DF 0130",
                                  "7DF 014E", "7DF 0142"));
}

TEST_F(CodeScanTest, ThenEachUnitOfTheStandardAlone) {
  begin({{0x7E8, true}});
  for (const char* list : {"03", "07", "0A"}) {
    const auto service = static_cast<unsigned>(std::stoi(list, nullptr, 16)) + 0x40;
    const auto byte = static_cast<std::uint8_t>(service);
    answers(0x7DF, 0x7E8, list, hex_text(&byte, 1) + "00");
  }
  (void)next();
  EXPECT_THAT(rest(), ElementsAre("7E0 1901AF", "7E1 1901AF", "7E2 1901AF", "7E3 1901AF", "7E4 1901AF",
                                  "7E5 1901AF", "7E6 1901AF", "7E7 1901AF"));
}

TEST_F(CodeScanTest, WhatAUnitDidNotTellWhenAllWereAskedItIsAskedAlone) {
  begin({{0x7E8, true}, {0x7E9, false}});
  answers(0x7DF, 0x7E8, "03", "4300");
  (void)next();
  const auto asked = rest();
  EXPECT_THAT(asked, Contains("7E0 07"));
  EXPECT_THAT(asked, Contains("7E0 0A"));
  EXPECT_THAT(asked, Not(Contains("7E0 03")));
  EXPECT_THAT(asked, Not(Contains("7E1 03"))) << "a unit that speaks no SAE J1979";
}

TEST_F(CodeScanTest, TheWholeRangeOf29BitAddressesIsAskedOnce) {
  begin({{0x18DAF110, false}});
  (void)next();
  const auto asked = rest();
  EXPECT_EQ(asked.size(), 255U) << "00 to FF without our own F1";
  EXPECT_EQ(std::set<std::string>(asked.begin(), asked.end()).size(), asked.size());
  EXPECT_THAT(asked, Contains("18DA18F1 1901AF"));
  EXPECT_THAT(asked, Not(Contains("18DAF1F1 1901AF")));
}

TEST_F(CodeScanTest, WhereNobodyHasAnsweredBothKindsOfIdentifiersAreTried) {
  std::vector<std::string> first = next();
  for (std::string& text : next()) first.push_back(std::move(text));
  EXPECT_THAT(first, Contains("7DF 03"));
  EXPECT_THAT(first, Contains("18DB33F1 03"));
  EXPECT_EQ(rest().size(), 8U) << "7E0 to 7E7; not all of the other addresses";
}

TEST_F(CodeScanTest, AFewAreHandedOutAtATime) {
  begin({{0x18DAF110, false}});
  EXPECT_EQ(scan.take(0, now).size(), 8U);
  EXPECT_THAT(scan.take(8, now), IsEmpty());
  (void)scan.take(0, now);
  EXPECT_LE(scan.take(3, now).size(), 5U);
}

TEST_F(CodeScanTest, CodesWithAFaultAreAskedForTheirRecords) {
  begin({{0x7E9, false}});
  (void)next();
  (void)next();
  answers(0x7E1, 0x7E9, "1901AF", "5901FF010002");
  EXPECT_THAT(next(), ElementsAre("7E1 1902AF"));
  // 074100 confirmed; 071800 only failed since the last clear
  answers(0x7E1, 0x7E9, "1902AF", "5902FF 074100 08 071800 20");
  EXPECT_THAT(rest(), ElementsAre("7E1 1904074100FF", "7E1 1906074100FF"));
}

TEST_F(CodeScanTest, AUnitThatDoesNotCountItsCodesMayListThem) {
  begin({{0x7E9, false}});
  (void)next();
  (void)next();
  answers(0x7E1, 0x7E9, "1901AF", "7F1912");
  EXPECT_THAT(rest(), ElementsAre("7E1 1902AF"));
}

TEST_F(CodeScanTest, AUnitWithoutTheServiceIsNotAskedForItsList) {
  begin({{0x7E9, false}});
  (void)next();
  (void)next();
  answers(0x7E1, 0x7E9, "1901AF", "7F1911");
  EXPECT_THAT(rest(), IsEmpty());
}

TEST_F(CodeScanTest, AFreezeFrameIsReadAsFarAsAnybodyCanReadIt) {
  Decoder decoder;
  Signal coolant;
  coolant.source = PidSource{0x05};
  Signal speed;
  speed.source = PidSource{0x0C};
  Signal voltage;
  voltage.source = PidSource{0x42};
  decoder.signals = {coolant, speed, voltage};
  scan = CodeScan({decoder}, bus, {{{bus, standard_id(0x7E8), std::nullopt}, true}}, now);
  (void)next();
  answers(0x7DF, 0x7E8, "03", "43010711");
  answers(0x7E0, 0x7E8, "020200", "4202000711");
  answers(0x7E0, 0x7E8, "020000", "420000 48100001");  // 02, 05, 0C and 20
  answers(0x7E0, 0x7E8, "022000", "422000 00000001");  // 40
  answers(0x7E0, 0x7E8, "024000", "424000 40000000");  // 42
  const auto asked = rest();
  std::vector<std::string> frozen;
  for (const std::string& text : asked)
    if (text.starts_with("7E0 02")) frozen.push_back(text);
  EXPECT_THAT(frozen, ElementsAre("7E0 020200", "7E0 020000", "7E0 020500", "7E0 020C00", "7E0 022000",
                                  "7E0 024000", "7E0 024200"));
}

TEST_F(CodeScanTest, WithoutAFrozenCodeThereIsNoFreezeFrame) {
  begin({{0x7E8, true}});
  (void)next();
  answers(0x7DF, 0x7E8, "03", "43010711");
  answers(0x7E0, 0x7E8, "020200", "4202000000");
  EXPECT_THAT(rest(), Not(Contains("7E0 020000")));
}

TEST_F(CodeScanTest, GivesUpAfterAWhile) {
  EXPECT_FALSE(scan.takes_too_long(now + 5min));
  EXPECT_TRUE(scan.takes_too_long(now + 5min + 1s));
  scan.give_up();
  EXPECT_TRUE(scan.finished(0));
  EXPECT_THAT(scan.take(0, now), IsEmpty());
}

TEST_F(CodeScanTest, J1939CodesAreAskedForWhereADecoderReadsJ1939) {
  Decoder decoder;
  Signal fluid;
  fluid.source = SpnSource{0xFEF8, 177, std::nullopt};
  decoder.signals = {fluid};
  scan = CodeScan({decoder}, bus, {}, now);
  std::vector<std::string> asked;
  while (asked.size() < 18)
    for (std::string& text : next()) asked.push_back(std::move(text));
  EXPECT_THAT(asked, Contains("18EAFFF9 CAFE00"));
  EXPECT_THAT(asked, Contains("18EAFFF9 CBFE00"));
}

TEST_F(CodeScanTest, AUnitThatNoIdentifierLeadsToIsPassedOver) {
  begin({{0x123, true}});
  (void)next();
  answers(0x7DF, 0x123, "03", "43010711");
  EXPECT_THAT(rest(), ElementsAre("7E0 1901AF", "7E1 1901AF", "7E2 1901AF", "7E3 1901AF", "7E4 1901AF",
                                  "7E5 1901AF", "7E6 1901AF", "7E7 1901AF"));
}

TEST_F(CodeScanTest, OfUnitsWithoutEndTheFirstFiveHundredAndTwelveAreRemembered) {
  begin({{0x7E8, false}});
  (void)next();
  for (std::uint32_t i = 0; i < 600; ++i) answers(0x7DF, 0x100 + i, "0100", "410000000000");
  answers(0x18DB33F1, 0x18DAF110, "0100", "410000000000");
  answers(0x7DF, 0x7E8, "07", "4700");  // one of the remembered: it speaks SAE J1979
  const auto asked = rest();
  EXPECT_THAT(asked, Contains("7E0 03"));
  EXPECT_EQ(asked.size(), 10U) << "03 and 0A of that one, 19 01 of 7E0 to 7E7: nothing with 29 bits";
}

TEST_F(CodeScanTest, AnAnswerThatNobodyCanReadIsNoReasonForMoreQuestions) {
  begin({{0x7E8, true}});
  (void)next();
  answers(0x7DF, 0x7E8, "03", "4302");                        // two codes, and none follows
  answers(0x7E0, 0x7E8, "020200", "42020007");                // half a code
  answers(0x7E0, 0x7E8, "020000", "4200");                    // no bitmap
  answers(0x7E0, 0x7E8, "1906074100FF", "5906074100 08 01");  // another tester read a record: no list
  const auto asked = rest();
  for (const std::string& text : asked)
    EXPECT_TRUE(text.substr(4, 2) == "07" || text.substr(4, 2) == "0A" || text.substr(4, 4) == "1901")
        << text;
}

TEST_F(CodeScanTest, OnlyTheListOfCodesByTheirStatusLeadsToTheirRecords) {
  begin({{0x7E9, false}});
  (void)next();
  answers(0x7E1, 0x7E9, "190A", "590AFF 074100 08");  // another tester asked which codes the unit can have
  for (const std::string& text : rest()) EXPECT_EQ(text.substr(4, 4), "1901") << text;
}

TEST_F(CodeScanTest, AFreezeFrameThatAnotherTesterReadIsNotTakenForTheListOfWhatItHolds) {
  Decoder decoder;
  Signal coolant;
  coolant.source = PidSource{0x05};
  Signal unknown;
  unknown.source = PidSource{0x7C};  // nobody knows its length: its bytes could not be found
  decoder.signals = {coolant, unknown};
  scan = CodeScan({decoder}, bus, {{{bus, standard_id(0x7E8), std::nullopt}, true}}, now);
  (void)next();
  answers(0x7E0, 0x7E8, "0205000C00", "42 050048 0C000AF0");              // two parameters
  answers(0x7E0, 0x7E8, "020400", "42 040080");                           // one
  answers(0x7E0, 0x7E8, "020000002000", "42 000008000000 200000000001");  // two lists
  answers(0x7E0, 0x7E8, "026000", "42 6000 00000010");                    // 7C
  answers(0x7E0, 0x7E8, "02E000", "42 E000 00000001");                    // behind FF there is nothing
  for (const std::string& text : rest()) EXPECT_NE(text.substr(4, 2), "02") << text;
}

TEST_F(CodeScanTest, WhatAnAnswerAtTheVeryEndMakesWorthAskingIsStillAsked) {
  begin({{0x7E9, false}});
  (void)rest();
  ASSERT_TRUE(scan.finished(0));
  EXPECT_FALSE(scan.finished(1)) << "one is on its way";
  answers(0x7E1, 0x7E9, "1901AF", "5901FF010001");
  EXPECT_FALSE(scan.finished(0));
  EXPECT_THAT(next(), ElementsAre("7E1 1902AF"));
}

}  // namespace
}  // namespace sumplog
