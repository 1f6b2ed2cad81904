#include "core/codes/scan_watch.h"

#include "core/codes/scan_watch_fixture.h"
#include "core/item/entry_names.h"

namespace sumplog::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

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

// Silence is never "clean"

TEST_F(ScanWatchTest, OfMoreUnitsThanThatNoneIsMissedLater) {
  for (std::uint32_t unit = 0; unit < 514; ++unit)
    exchange(0x10000, 0x10000 + unit, "01 00", "41 00 80 00 00 00");
  mark(true);
  exchange(0x10000, 0x10000 + 512, "03",
           "43 00");  // that it has emission-related codes is not remembered either
  mark(false);
  EXPECT_EQ(whole().silent.size(), 513U) << "512, and the transmission";
  EXPECT_THAT(whole().why, Not(Contains(HasSubstr("(07)"))));
}

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

TEST_F(ScanWatchTest, AListByAMaskThatLeavesOutFaultsIsSaidWithItAndTellsNotEverything) {
  mark(true);
  to_all(0x7E8, "03", "43 00");
  to_all(0x7E8, "07", "47 00");
  exchange(0x7E1, 0x7E9, "19 02 08", "59 02 FF");
  exchange(0x7E1, 0x7E9, "19 02", "59 02 FF");  // without a mask: of nothing
  EXPECT_EQ(all<CodesEvent>().back().service, "19 02 08");
  exchange(0x7E0, 0x7E8, "19 02 08", "");  // nor is it one that was asked in vain
  mark(false);
  EXPECT_THAT(whole().why, ElementsAre("7E9 (transmission) did not tell its codes"));
  events.clear();
  mark(true);
  to_all(0x7E8, "03", "43 00");
  to_all(0x7E8, "07", "47 00");
  exchange(0x7E1, 0x7E9, "19 02 FF", "59 02 FF");
  EXPECT_EQ(all<CodesEvent>().back().service, "19 02");
  mark(false);
  EXPECT_TRUE(whole().complete) << ::testing::PrintToString(whole().why);
}

TEST_F(ScanWatchTest, ACodeWhoseStatusTellsNoFaultHasNoClassAndIsNotCompared) {
  mark(true);
  exchange(0x7E1, 0x7E9, "19 02 AF", "59 02 FF");
  mark(false);
  mark(true, "after");
  exchange(0x7E1, 0x7E9, "19 02 FF", "59 02 FF 071100 50 071200 09");  // 50: the test has not run
  const std::vector<CodeLine> told = *all<CodesEvent>().back().codes;
  ASSERT_EQ(told.size(), 2U);
  EXPECT_EQ(told[0].code_class + told[0].why, "");
  EXPECT_EQ(told[1].code_class, "unknown");
  exchange(0x7E1, 0x7E9, "19 0A", "59 0A FF 071300 00");
  mark(false, "after");
  ASSERT_EQ(all<ComparedEvent>().size(), 1U);
  ASSERT_EQ(all<ComparedEvent>()[0].lines.size(), 1U);
  EXPECT_EQ(all<ComparedEvent>()[0].lines[0].code, "P0712-00");
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
  EXPECT_TRUE(whole().complete) << ::testing::PrintToString(whole().why);
}

TEST_F(ScanWatchTest, AUnitThatAnswersOtherQuestionsHasNotToldItsCodes) {
  mark(true);
  both_tell();
  exchange(0x7E2, 0x7EA, "22 F1 90", "62 F1 90 00");
  exchange(0x7E2, 0x7EA, "19", "");  // cut short: it asks for no list
  mark(false);
  EXPECT_THAT(whole().why, ElementsAre("7EA did not tell its codes"));
}

TEST_F(ScanWatchTest, PermanentCodesAndWhatIsToldTwiceStandOnceInTheComparison) {
  mark(true);
  both_tell();
  to_all(0x7E8, "03", "43 01 0711");
  to_all(0x7E8, "0A", "4A 01 0711");
  mark(false);
  mark(true, "after");
  both_tell();
  mark(false, "after");
  ASSERT_EQ(all<ComparedEvent>().size(), 1U);
  EXPECT_THAT(all<ComparedEvent>()[0].lines[0].before, ElementsAre("stored", "permanent"));
}

TEST_F(ScanWatchTest, AScanThatAnotherOneInterruptsIsIncomplete) {
  mark(true);
  both_tell();
  mark(true, "after");
  EXPECT_FALSE(whole().complete);
  EXPECT_THAT(whole().why, ElementsAre("another scan was begun"));
}

TEST_F(ScanWatchTest, AScanOfAnotherNameIsOneOnTheWay) {
  entry(kPlugOut);
  entry(kScanEntry, R"({"scan":"whenever"})");
  entry(kScanEntry, R"({"scan":"before"})");
  entry(kScanEntry);
  std::vector<std::string> scans;
  for (const ScanEvent& one : all<ScanEvent>()) scans.push_back(one.scan);
  EXPECT_THAT(scans, ElementsAre("during", "before", "during"));
}

TEST_F(ScanWatchTest, AUnitBehindAnAddressByteIsTheOneThatTheDecoderNames) {
  Decoder decoder = gearbox();
  decoder.units[0].address = {standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18, 0xF1};
  watch = ScanWatch({decoder}, {});
  const auto tells = [&](std::uint8_t address) {
    Exchange e;
    e.request = Endpoint{bus, standard_id(0x6F1), 0x18};
    e.unit = Endpoint{bus, standard_id(0x618), address};
    e.asked = bytes("19 02 AF");
    e.response = bytes("59 02 FF");
    e.result = ExchangeResult::answered;
    watch.on_exchange(e, {}, events);
  };
  mark(true);
  tells(0xF2);  // to another tester: not this one
  mark(false);
  EXPECT_THAT(whole().answered, ElementsAre("618/F2"));
  EXPECT_THAT(whole().silent, ElementsAre("618/F1 (transmission)"));
  events.clear();
  watch = ScanWatch({decoder}, {});
  mark(true);
  tells(0xF1);
  mark(false);
  EXPECT_THAT(whole().answered, ElementsAre("618/F1 (transmission)"));
  EXPECT_THAT(whole().silent, IsEmpty());
}

TEST_F(ScanWatchTest, OnlyMeasuredValuesOfAUnitSpeakOfItsMemory) {
  mark(true);
  both_tell();
  reading("module_voltage", 11.4, "7E8");
  ReadingEvent doubtful;
  doubtful.bus = bus;
  doubtful.signal = "module_voltage";
  doubtful.value = 3;
  doubtful.ecu = "7E8";
  doubtful.quality = Quality::suspect;
  watch.on_reading(doubtful);
  doubtful.quality = Quality::measured;
  doubtful.value.reset();
  watch.on_reading(doubtful);
  bus = BusName("can1");
  reading("distance_since_codes_cleared", 812, "7E8");  // of another bus
  bus = BusName("can0");
  mark(false);
  EXPECT_EQ(whole().supply_low_v, 11.4);
  mark(true, "after");
  both_tell();
  reading("distance_since_codes_cleared", 3, "7E8");
  mark(false, "after");
  EXPECT_THAT(all<ComparedEvent>()[0].cleared, IsEmpty());
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
  for (int flaps = 0; flaps < 3; ++flaps) {
    watch.on_link(bus, LinkState::error_passive);
    watch.on_link(bus, LinkState::bus_off);
    watch.on_link(bus, LinkState::up);
  }
  mark(false);
  EXPECT_THAT(whole().why, ElementsAre("the bus was away")) << "once, however often";
}

TEST_F(ScanWatchTest, AnotherBusThatWasAwayIsNoneOfItsOwn) {
  const BusName other("can1");
  mark(true);
  both_tell();
  watch.on_link(other, LinkState::gone);
  mark(false);
  EXPECT_TRUE(whole().complete) << ::testing::PrintToString(whole().why);
  events.clear();
  mark(true);
  watch.on_link(other, LinkState::gone);  // it may have been the one
  both_tell();
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

TEST_F(ScanWatchTest, APlugThatIsEnteredLateChangesNothingThatHappenedAfterIt) {
  entry(kPlugIn);
  now += 30s;
  mark(true);
  both_tell();
  entry(kPlugOut, R"({"ago_s":60})");  // it came in after that
  entry(kScanEntry);
  mark(false);
  EXPECT_TRUE(whole().complete) << ::testing::PrintToString(whole().why);
  events.clear();
  entry(kPlugOut);
  now += 10s;
  entry(kPlugIn, R"({"ago_s":50})");  // it came out after that
  entry(kScanEntry);
  EXPECT_THAT(whole().why, ElementsAre("no scan while the plug is out: put it in first"));
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
}  // namespace sumplog::testing
