#include "core/codes/code_sheet.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using testing::AllOf;
using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::Not;

std::string text_of_sheet(const CodeSheet& sheet) {
  return joined(sheet.text(), "\n");
}

CodesEvent list(const char* ecu, const char* service, std::vector<CodeLine> codes,
                const char* scan = "before") {
  CodesEvent event;
  event.scan = scan;
  event.ecu = ecu;
  event.service = service;
  event.codes = std::move(codes);
  return event;
}

ScanEvent ended(bool complete, std::vector<std::string> why = {}) {
  ScanEvent event;
  event.scan = "before";
  event.complete = complete;
  event.why = std::move(why);
  event.asked = {"03 of all units (7DF)"};
  event.answered = {"7E8"};
  event.silent = {"7E9 (transmission)"};
  event.not_asked = {"units behind gateways"};
  return event;
}

const CodeLine kSensor{"P0711",
                       {"stored"},
                       "0711",
                       "fluid temperature sensor: range",
                       "invalidates the level check",
                       "it may be invented"};

TEST(CodeSheet, ACodeOfSeveralServicesStandsOnceWithAllItsStates) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {kSensor}));
  CodeLine pending = kSensor;
  pending.status = {"pending"};
  sheet.on_event(list("7E8", "07", {pending}));
  const auto lines = sheet.text();
  EXPECT_THAT(lines, Contains("  P0711  stored, pending"));
  EXPECT_THAT(lines, Contains("      invalidates the level check: it may be invented"));
}

TEST(CodeSheet, ACodeWithAndWithoutItsFailureTypeIsOneCode) {
  CodeSheet sheet;
  sheet.on_event(list("7E9", "03", {kSensor, {"P0741", {"stored"}, "0741", {}, {}, {}}}));
  CodeLine full = kSensor;
  full.code = "P0711-1F";
  full.status = {"test failed", "confirmed"};
  sheet.on_event(list("7E9", "19 02", {full}));
  EXPECT_THAT(sheet.text(), Contains("  P0711-1F  stored, test failed, confirmed"));
  EXPECT_THAT(sheet.text(), Contains("  P0741  stored"));
  EXPECT_THAT(text_of_sheet(sheet), Not(HasSubstr("P0711  ")));
}

TEST(CodeSheet, AnEmptyListAndSilenceAreDifferentWords) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {}));
  CodesEvent refused;
  refused.scan = "before";
  refused.ecu = "7E9";
  refused.service = "19 02";
  refused.refused = "not readable without another session";
  sheet.on_event(refused);
  EXPECT_THAT(sheet.text(), Contains("7E8  no codes told"));
  EXPECT_THAT(sheet.text(), Contains("7E9  codes not told"));
  EXPECT_THAT(sheet.text(), Contains("  19 02: not readable without another session"));
}

TEST(CodeSheet, AnIncompleteScanIsNeverCalledComplete) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {}));
  sheet.on_event(ended(false, {"7E9 (transmission) did not answer"}));
  const std::string text = text_of_sheet(sheet);
  EXPECT_THAT(text, HasSubstr("The scan is not complete:\n  7E9 (transmission) did not answer"));
  EXPECT_THAT(text, HasSubstr("silent:\n  7E9 (transmission)"));
  EXPECT_THAT(text, HasSubstr("not asked:\n  units behind gateways"));
  EXPECT_THAT(text, Not(HasSubstr("is complete")));
}

TEST(CodeSheet, AFreezeFrameStandsWithTheCodeThatFrozeIt) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {kSensor, {"P0741", {"stored"}, "0741", {}, {}, {}}}));
  CodesEvent frozen;
  frozen.scan = "before";
  frozen.ecu = "7E8";
  frozen.service = "02";
  frozen.code = "P0741";
  sheet.on_event(frozen);
  frozen.code.clear();
  ReadingEvent coolant;
  coolant.signal = "coolant_temperature";
  coolant.value = 83;
  coolant.unit = "degC";
  frozen.frozen = {coolant};
  sheet.on_event(frozen);
  EXPECT_THAT(text_of_sheet(sheet),
              HasSubstr("  P0741  stored\n      freeze frame  coolant_temperature 83 °C"));
}

TEST(CodeSheet, ValuesOfAFreezeFrameHaveTheirUnitWhereThereIsOne) {
  CodeSheet sheet;
  CodesEvent frozen;
  frozen.scan = "before";
  frozen.ecu = "7E8";
  ReadingEvent none;
  none.signal = "coolant_temperature";
  frozen.frozen = {none};
  sheet.on_event(frozen);  // before anybody said which code froze it
  EXPECT_THAT(text_of_sheet(sheet), Not(HasSubstr("freeze frame")));
  frozen.frozen.clear();
  frozen.code = "P0741";
  sheet.on_event(frozen);
  frozen.code.clear();
  ReadingEvent gear;
  gear.signal = "gear";
  gear.value = 3;
  ReadingEvent speed;
  speed.signal = "engine_speed";
  speed.value = 1726;
  speed.unit = "rpm";
  frozen.frozen = {none, gear, speed};
  sheet.on_event(frozen);
  EXPECT_THAT(text_of_sheet(sheet),
              HasSubstr("freeze frame  coolant_temperature no value, gear 3, engine_speed 1726 rpm"));
}

TEST(CodeSheet, AUnitIsTitledWithTheNameThatItGaveItself) {
  CodeSheet sheet;
  VehicleEvent event{};
  event.ecu = "7E8";
  event.vin = "0TESTCAR0FAKE0001";
  sheet.on_event(event);  // no name in it
  event.name = "ECM-Unit";
  sheet.on_event(event);
  sheet.on_event(list("7E8", "03", {kSensor}));
  EXPECT_THAT(sheet.text(), Contains("7E8  ECM-Unit"));
}

TEST(CodeSheet, MonitorsLampsAndRecordsStandWithTheirUnit) {
  CodeSheet sheet;
  CodesEvent event = list("7E8", "01 01", {kSensor});
  event.monitors = MonitorStatus{true, 2, {{"misfire", true}, {"catalyst", false}}};
  event.lamps = {"amber warning", "protect"};
  sheet.on_event(event);
  CodesEvent record;
  record.scan = "before";
  record.ecu = "7E8";
  record.service = "19 06";
  record.code = "P0711";
  record.record = "05171079";
  sheet.on_event(record);
  const std::string text = text_of_sheet(sheet);
  EXPECT_THAT(text, HasSubstr("      record  19 06: 05171079"));
  EXPECT_THAT(text, HasSubstr("  warning lamps on: amber warning, protect"));
  EXPECT_THAT(
      text,
      HasSubstr("warning lamp on, 2 emission-related codes counted, readiness not complete:\n  catalyst"));
  event.monitors = MonitorStatus{false, 0, {{"misfire", true}}};
  sheet.on_event(event);
  EXPECT_THAT(text_of_sheet(sheet),
              HasSubstr("warning lamp off, 0 emission-related codes counted, readiness complete"));
}

TEST(CodeSheet, AClassWithoutAReasonStandsAlone) {
  CodeSheet sheet;
  CodeLine brief = kSensor;
  brief.why.clear();
  sheet.on_event(list("7E8", "03", {brief}));
  EXPECT_THAT(sheet.text(), Contains("      invalidates the level check"));
}

TEST(CodeSheet, TheSameStateTwiceIsOneWord) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {kSensor}));
  sheet.on_event(list("7E8", "03", {kSensor}));
  EXPECT_THAT(sheet.text(), Contains("  P0711  stored"));
}

TEST(CodeSheet, TheComparisonStandsBelowTheScanAndGoesWithTheNextOne) {
  for (const bool complete : {true, false}) {
    CodeSheet sheet;
    sheet.on_event(list("7E8", "03", {kSensor}));
    sheet.on_event(ended(true));
    ComparedEvent compared;
    compared.complete = complete;
    compared.lines = {{"7E8", "P0711", CodeChange::same, {"stored"}, {"stored"}}};
    sheet.on_event(compared);
    EXPECT_THAT(text_of_sheet(sheet),
                HasSubstr(complete ? "Against the scan before:\n  7E8  P0711  same: stored"
                                   : "Against the scan before, not complete:"));
    sheet.on_event(list("7E8", "03", {}));  // another scan of the same name
    EXPECT_THAT(text_of_sheet(sheet), Not(HasSubstr("Against the scan before")));
    EXPECT_THAT(sheet.text(), Contains("7E8  no codes told"));
  }
}

TEST(CodeSheet, LowSupplyIsNamedBesideTheCodesThatItMayCause) {
  for (const auto& [volt, low] :
       {std::pair{12.1, true}, {12.3, false}}) {  // common practice, no source: 12.2 V
    CodeSheet sheet;
    ScanEvent event = ended(true);
    event.supply_low_v = volt;
    sheet.on_event(list("7E8", "03", {}));
    sheet.on_event(event);
    EXPECT_EQ(text_of_sheet(sheet).find("low supply alone sets codes") != std::string::npos, low) << volt;
  }
}

TEST(CodeSheet, OnlyTheLastScanIsShown) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {kSensor}));
  sheet.on_event(ended(true));
  sheet.on_event(list("7E8", "03", {}, "after"));
  EXPECT_THAT(text_of_sheet(sheet), AllOf(Not(HasSubstr("P0711")), HasSubstr("scan 'after'")));
}

TEST(CodeSheet, WhatIsToldAfterTheScanDoesNotStandInIt) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {kSensor}));
  sheet.on_event(ended(true));
  sheet.on_event(list("7E8", "03", {}, ""));
  EXPECT_THAT(text_of_sheet(sheet), HasSubstr("P0711"));
}

TEST(CodeSheet, SaysThatARecordingWithoutAScanIsWhatSomebodyElseAskedFor) {
  CodeSheet sheet;
  sheet.on_event(list("7E8", "03", {}, ""));
  EXPECT_THAT(text_of_sheet(sheet), HasSubstr("There is no scan in this recording"));
}

TEST(CodeSheet, NothingToldIsSaid) {
  EXPECT_THAT(CodeSheet().text(), Contains("No unit has told anything about its codes."));
}

TEST(CodeSheet, NoLineIsWiderThanATerminal) {
  CodeSheet sheet;
  CodeLine wordy = kSensor;
  wordy.why =
      "the temperature that the unit tells may be one that it has made up, and a level that was checked with "
      "it is "
      "worth nothing until a second thermometer says the same";
  sheet.on_event(list("7E8", "03", {wordy}));
  sheet.on_event(ended(
      false, {"7E9 (transmission) did not tell its codes: not readable without another session, and more"}));
  for (const std::string& line : sheet.text()) EXPECT_LE(columns_of(line), 80U) << line;
}

TEST(ComparedText, EveryDifferenceIsALine) {
  ComparedEvent compared;
  compared.lines = {{"7E8", "P0711", CodeChange::same, {"stored"}, {"stored"}},
                    {"7E8", "P0741", CodeChange::gone, {"pending"}, {}},
                    {"7E9", "P0730", CodeChange::appeared, {}, {"test failed"}},
                    {"7E9", "P0897", CodeChange::status_changed, {"pending"}, {"confirmed"}},
                    {"7EA", "", CodeChange::silent_now, {}, {}}};
  compared.cleared = {"7E8: monitor 'catalyst' complete before, not complete after"};
  EXPECT_THAT(
      text_of(compared),
      ElementsAre(
          "7E8  P0711  same: stored", "7E8  P0741  gone: pending", "7E9  P0730  new: test failed",
          "7E9  P0897  status changed: pending -> confirmed", "7EA  unit silent now",
          "A memory was cleared in between: 7E8: monitor 'catalyst' complete before, not complete after"));
  EXPECT_THAT(text_of(ComparedEvent{}), ElementsAre("no code in either"));
  compared.lines = {{"7E8", "P0711", CodeChange::same, {}, {}}};  // a code without a state
  compared.cleared.clear();
  EXPECT_THAT(text_of(compared), ElementsAre("7E8  P0711  same"));
}

}  // namespace
}  // namespace sumplog
