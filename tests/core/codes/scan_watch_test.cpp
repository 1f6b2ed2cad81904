#include "core/codes/scan_watch.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <string_view>

#include "core/isotp/frames.h"
#include "core/item/entry_names.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

/// A decoder that names one unit, 7E1 / 7E9; invented.
Decoder gearbox() {
  Decoder decoder;
  decoder.id = "invented";
  Unit unit;
  unit.id = "transmission";
  unit.address.request = standard_id(0x7E1);
  unit.address.response = standard_id(0x7E9);
  decoder.units.push_back(unit);
  return decoder;
}

class ScanWatchTest : public testing::Test {
 protected:
  void mark(bool begun, std::string scan = "before") {
    watch.on_mark(ScanMark{now, begun, std::move(scan)}, now, events);
  }
  void exchange(std::uint32_t to, std::uint32_t unit, std::string_view asked, std::string_view response) {
    Exchange e;
    e.asked_at = e.ended_at = now;
    e.request = Endpoint{bus, standard_id(to), std::nullopt};
    if (unit != 0) e.unit = Endpoint{bus, standard_id(unit), std::nullopt};
    e.asked = bytes(asked);
    const auto answer = bytes(response);
    if (answer.empty()) {
      e.result = ExchangeResult::silent;
    } else if (answer[0] == 0x7F) {
      e.result = ExchangeResult::refused;
      e.negative_code = answer[2];
    } else {
      e.result = ExchangeResult::answered;
      e.response = answer;
    }
    watch.on_exchange(e, {}, events);
  }
  void to_all(std::uint32_t unit, std::string_view asked, std::string_view response) {
    exchange(0x7DF, unit, asked, response);
  }
  void entry(std::string_view name, std::string fields = "{}") {
    watch.on_entry(Entry{now, "1", std::string(name), std::move(fields)}, now, events);
  }
  void reading(const char* signal, double value, const char* ecu) {
    ReadingEvent r;
    r.at = now;
    r.bus = bus;
    r.signal = signal;
    r.value = value;
    r.ecu = ecu;
    watch.on_reading(r);
  }
  /// Both units tell everything that they must.
  void both_tell() {
    to_all(0x7E8, "03", "43 01 0711");
    to_all(0x7E9, "03", "43 00");
    to_all(0x7E8, "07", "47 00");
    to_all(0x7E9, "07", "47 00");
  }
  template <class T>
  std::vector<T> all() const {
    std::vector<T> found;
    for (const Event& event : events)
      if (const auto* one = std::get_if<T>(&event)) found.push_back(*one);
    return found;
  }
  ScanEvent whole() const {
    const auto found = all<ScanEvent>();
    EXPECT_EQ(found.size(), 1U);
    return found.empty() ? ScanEvent{} : found.back();
  }

  BusName bus{"can0"};
  TimePoint now{1700000000s};
  ScanWatch watch{{gearbox()}, {}};
  std::vector<Event> events;
};

// Normal

TEST_F(ScanWatchTest, SaysWhatEachUnitTold) {
  mark(true);
  both_tell();
  mark(false);
  const auto codes = all<CodesEvent>();
  ASSERT_EQ(codes.size(), 4U);
  EXPECT_EQ(codes[0].scan, "before");
  EXPECT_EQ(codes[0].ecu, "7E8");
  EXPECT_EQ(codes[0].service, "03");
  ASSERT_EQ(codes[0].codes->size(), 1U);
  EXPECT_EQ(codes[0].codes->front().code, "P0711");
  EXPECT_EQ(codes[0].codes->front().raw, "0711");
  EXPECT_THAT(codes[0].codes->front().status, ElementsAre("stored"));
  EXPECT_THAT(*codes[1].codes, IsEmpty());  // an empty list is an answer
  const ScanEvent scan = whole();
  EXPECT_TRUE(scan.complete);
  EXPECT_THAT(scan.answered, ElementsAre("7E8", "7E9 (transmission)"));
  EXPECT_THAT(scan.silent, IsEmpty());
  EXPECT_THAT(scan.asked, ElementsAre("03 of all units (7DF)", "07 of all units (7DF)"));
  EXPECT_THAT(scan.not_asked, Contains(HasSubstr("behind gateways")));
}

TEST_F(ScanWatchTest, WhatAUnitCouldTellIsNotWhatItHas) {
  mark(true);
  exchange(0x7E1, 0x7E9, "19 0A", "59 0A FF");
  mark(false);
  mark(true, "after");
  exchange(0x7E1, 0x7E9, "19 02 FF", "59 02 FF 07 11 00 08");
  mark(false, "after");
  const auto compared = all<ComparedEvent>();
  ASSERT_EQ(compared.size(), 1U);
  ASSERT_EQ(compared[0].lines.size(), 1U);
  EXPECT_EQ(compared[0].lines[0].change, CodeChange::silent_before) << "nobody knows that the code is new";
}

TEST_F(ScanWatchTest, CodesOfAnyTesterAreSaidOutsideOfAScanToo) {
  to_all(0x7E8, "03", "43 01 0711");
  ASSERT_EQ(all<CodesEvent>().size(), 1U);
  EXPECT_EQ(all<CodesEvent>()[0].scan, "");
  EXPECT_THAT(all<ScanEvent>(), IsEmpty());
}

TEST_F(ScanWatchTest, RecordsOfACodeAreKeptRaw) {
  exchange(0x7E1, 0x7E9, "19 06 123456 FF", "59 06 123456 24 05 17 10 79");
  ASSERT_EQ(all<CodesEvent>().size(), 1U);
  EXPECT_EQ(all<CodesEvent>()[0].code, "P1234-56");
  EXPECT_EQ(all<CodesEvent>()[0].service, "19 06");
  EXPECT_EQ(all<CodesEvent>()[0].record, "05171079");
}

TEST_F(ScanWatchTest, TheFormatThatAUnitCountsInIsTheOneOfItsLists) {
  exchange(0x7E1, 0x7E9, "19 01 AF", "59 01 FF 02 00 01");
  exchange(0x7E1, 0x7E9, "19 02 AF", "59 02 FF B10003 08");
  ASSERT_EQ(all<CodesEvent>().size(), 1U);
  EXPECT_EQ(all<CodesEvent>()[0].codes->front().code, "SPN 177 FMI 3");
}

TEST_F(ScanWatchTest, AskedUnitsInARowAreOneRange) {
  mark(true);
  for (std::uint32_t id = 0x7E0; id <= 0x7E7; ++id)
    exchange(id, id + 8, "19 02 AF", id == 0x7E1 ? "59 02 FF" : "");
  exchange(0x7E1, 0x7E9, "19 04 123456 FF", "59 04 123456 24");
  exchange(0x7E1, 0x7E9, "19 04 123457 FF", "59 04 123457 24");
  mark(false);
  EXPECT_THAT(whole().asked, ElementsAre("1902AF of 7E0 to 7E7", "1904 of 7E1"));
}

TEST_F(ScanWatchTest, TheLowestSupplyVoltageStandsBesideTheCodes) {
  mark(true);
  both_tell();
  reading("module_voltage", 12.1, "7E8");
  reading("module_voltage", 11.4, "7E8");
  reading("module_voltage", 12.6, "7E8");
  mark(false);
  ASSERT_TRUE(whole().supply_low_v);
  EXPECT_DOUBLE_EQ(*whole().supply_low_v, 11.4);
}

// SAE J1939

TEST_F(ScanWatchTest, ActiveCodesOfJ1939AreSaidWhenTheyChangeAndOnceInAScan) {
  const auto dm1 = [&](std::string_view data) {
    Message message;
    message.at = now;
    message.from = Endpoint{bus, extended_id(0x18FECA03), std::nullopt};
    message.group = 0xFECA;
    message.payload = bytes(data);
    watch.on_group(message, events);
  };
  // Lamp amber; SPN 177 FMI 3, five times: layout as in canboat and docs.rs/j1939.
  dm1("04 FF B1 00 03 05 FF FF");
  dm1("04 FF B1 00 03 05 FF FF");
  ASSERT_EQ(all<CodesEvent>().size(), 1U);
  const CodesEvent first = all<CodesEvent>()[0];
  EXPECT_EQ(first.service, "DM1");
  EXPECT_EQ(first.codes->front().code, "SPN 177 FMI 3");
  EXPECT_EQ(first.codes->front().raw, "B1000305");
  EXPECT_THAT(first.codes->front().status, ElementsAre("active"));
  EXPECT_THAT(first.lamps, ElementsAre("amber warning"));
  mark(true);
  both_tell();
  dm1("04 FF B1 00 03 05 FF FF");
  EXPECT_EQ(all<CodesEvent>().back().scan, "before");
  EXPECT_EQ(all<CodesEvent>().back().service, "DM1");
  mark(false);
  EXPECT_TRUE(whole().complete) << testing::PrintToString(whole().why);
  EXPECT_THAT(whole().answered, Contains("18FECA03"));
  dm1("00 FF 00 00 00 00 FF FF");
  EXPECT_THAT(*all<CodesEvent>().back().codes, IsEmpty());
}

// Silence is never "clean"

TEST_F(ScanWatchTest, AUnitThatTheDecoderNamesAndThatDoesNotAnswerIsSilent) {
  mark(true);
  to_all(0x7E8, "03", "43 00");
  to_all(0x7E8, "07", "47 00");
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().silent, ElementsAre("7E9 (transmission)"));
  EXPECT_THAT(whole().why, ElementsAre("7E9 (transmission) did not answer"));
}

TEST_F(ScanWatchTest, AUnitThatAnsweredBeforeInThisJobIsMissed) {
  to_all(0x7EA, "01 00", "41 00 80 00 00 00");
  mark(true);
  both_tell();
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().silent, ElementsAre("7EA"));
}

TEST_F(ScanWatchTest, PendingCodesThatWereNotToldMakeItIncomplete) {
  mark(true);
  both_tell();
  to_all(0x7EA, "03", "43 00");
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("7EA did not tell its pending codes (07)"));
}

TEST_F(ScanWatchTest, AUnitThatOnlyRefusesHasNotToldItsCodes) {
  mark(true);
  to_all(0x7E8, "03", "43 00");
  to_all(0x7E8, "07", "47 00");
  exchange(0x7E1, 0x7E9, "19 02 AF", "7F 19 7F");
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why,
              ElementsAre("7E9 (transmission) did not tell its codes: not readable without another session"));
  EXPECT_EQ(all<CodesEvent>().back().refused, "not readable without another session");
}

TEST_F(ScanWatchTest, AnAnswerLostOnceIsNotAnAnswer) {
  mark(true);
  both_tell();
  exchange(0x7E0, 0x7E8, "19 02 AF", "");
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("7E8 did not answer 19"));
}

TEST_F(ScanWatchTest, AServiceAskedTwiceInVainIsOneThatTheUnitDoesNotHave) {
  mark(true);
  both_tell();
  for (int i = 0; i < 2; ++i) exchange(0x7E0, 0x7E8, "19 02 AF", "");
  for (int i = 0; i < 2; ++i) exchange(0x7E0, 0x7E8, "0A", "");
  mark(false);
  EXPECT_TRUE(whole().complete) << testing::PrintToString(whole().why);
}

TEST_F(ScanWatchTest, NobodyThereIsNotClean) {
  ScanWatch nobody({}, {});
  nobody.on_mark(ScanMark{now, true, "before"}, now, events);
  nobody.on_mark(ScanMark{now, false, "before"}, now, events);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("no unit answered"));
}

TEST_F(ScanWatchTest, AScanThatBreaksOffIsIncomplete) {
  for (const char* why : {"the recording ended", "the program was stopped"}) {
    events.clear();
    mark(true);
    both_tell();
    watch.on_break(why, now, events);
    EXPECT_FALSE(whole().complete);
    EXPECT_THAT(whole().why, ElementsAre(why));
  }
  events.clear();
  watch.on_break("the recording ended", now, events);  // no scan is open
  EXPECT_THAT(events, IsEmpty());
}

TEST_F(ScanWatchTest, ABusThatWasAwayMakesItIncomplete) {
  mark(true);
  both_tell();
  watch.on_link(LinkState::error_passive);
  watch.on_link(LinkState::bus_off);
  watch.on_link(LinkState::up);
  mark(false);
  EXPECT_THAT(whole().why, ElementsAre("the bus was away"));
}

TEST_F(ScanWatchTest, ThePlugComesOutAndTheScanEnds) {
  mark(true);
  both_tell();
  entry(kPlugOut);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("the plug came out"));
}

TEST_F(ScanWatchTest, AScanAskedForWithThePlugOutIsRefusedAloud) {
  entry(kPlugOut);
  entry(kScanEntry, R"({"scan":"after"})");
  EXPECT_FALSE(whole().complete);
  EXPECT_EQ(whole().scan, "after");
  EXPECT_THAT(whole().why, ElementsAre("no scan while the plug is out: put it in first"));
  events.clear();
  entry(kPlugIn);
  entry(kScanEntry);
  EXPECT_THAT(events, IsEmpty());
}

TEST_F(ScanWatchTest, AnAnswerThatCannotBeReadIsALoss) {
  mark(true);
  to_all(0x7E8, "03", "43 02 0711");
  ASSERT_EQ(all<LossEvent>().size(), 1U);
  EXPECT_EQ(all<LossEvent>()[0].ecu, "7E8");
  to_all(0x7E8, "03", "43 00");
  to_all(0x7E8, "07", "47 01");
  to_all(0x7E9, "03", "43 00");
  to_all(0x7E9, "07", "47 00");
  mark(false);
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("7E8 did not tell its pending codes (07)"));
}

// Before and after

TEST_F(ScanWatchTest, EveryKindOfDifferenceIsInTheTable) {
  mark(true, "before");
  both_tell();  // P0711 stored in 7E8
  exchange(0x7E1, 0x7E9, "19 02 AF", "59 02 FF 074100 24 089700 08 071800 08");
  exchange(0x7E2, 0x7EA, "19 02 AF", "59 02 FF 010000 08");  // silent afterwards
  exchange(0x7E4, 0x7EC, "19 02 AF", "59 02 FF");            // no code, silent afterwards
  mark(false, "before");
  mark(true, "after");
  both_tell();
  exchange(0x7E1, 0x7E9, "19 02 AF", "59 02 FF 074100 28 089700 08 073000 01");
  exchange(0x7E3, 0x7EB, "19 02 AF", "59 02 FF 020000 08");  // silent before
  mark(false, "after");
  const auto compared = all<ComparedEvent>();
  ASSERT_EQ(compared.size(), 1U);
  EXPECT_EQ(
      journal_line(compared[0]),
      R"({"t":1700000000.000000,"kind":"compared","codes":[)"
      R"({"ecu":"7E8","code":"P0711","change":"same","before":["stored"],"after":["stored"]},)"
      R"({"ecu":"7E9","code":"P0718-00","change":"gone","before":["confirmed"]},)"
      R"({"ecu":"7E9","code":"P0730-00","change":"new","after":["test failed"]},)"
      R"({"ecu":"7E9","code":"P0741-00","change":"status changed","before":["pending","test failed since last clear"],"after":["confirmed","test failed since last clear"]},)"
      R"({"ecu":"7E9","code":"P0897-00","change":"same","before":["confirmed"],"after":["confirmed"]},)"
      R"({"ecu":"7EA","code":"P0100-00","change":"unit silent now","before":["confirmed"]},)"
      R"({"ecu":"7EB","code":"P0200-00","change":"unit silent before","after":["confirmed"]},)"
      R"({"ecu":"7EC","change":"unit silent now"}],"complete":false})");
}

TEST_F(ScanWatchTest, AClearedMemoryIsVisibleAsSuch) {
  mark(true, "before");
  both_tell();
  to_all(0x7E8, "01 01", "41 01 81 07 21 00");
  reading("distance_since_codes_cleared", 812, "7E8");
  reading("warm_ups_since_codes_cleared", 40, "7E8");
  mark(false, "before");
  mark(true, "after");
  both_tell();
  to_all(0x7E8, "01 01", "41 01 00 07 21 21");
  reading("distance_since_codes_cleared", 3, "7E8");
  reading("warm_ups_since_codes_cleared", 40, "7E8");
  mark(false, "after");
  ASSERT_EQ(all<ComparedEvent>().size(), 1U);
  EXPECT_TRUE(all<ComparedEvent>()[0].complete);
  EXPECT_THAT(all<ComparedEvent>()[0].cleared,
              ElementsAre("7E8: distance_since_codes_cleared 812 before, 3 after",
                          "7E8: monitors complete before and not after: catalyst, oxygen sensor"));
}

TEST_F(ScanWatchTest, WithoutAScanBeforeThereIsNothingToCompare) {
  mark(true, "after");
  both_tell();
  mark(false, "after");
  EXPECT_THAT(all<ComparedEvent>(), IsEmpty());
}

}  // namespace
}  // namespace sumplog
