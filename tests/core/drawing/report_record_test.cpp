#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>

#include "core/drawing/report_page.h"
#include "core/item/entry_names.h"
#include "core/job/stages.h"
#include "core/record/job_summary.h"

// What of a whole record stands on the customer's sheet, and what on the technician's pages.

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr TimePoint kBegan = at_micros(1'700'000'000'000'000);

/// "2023-11-14 22:13": what `date -u -d @1700000000` says of the beginning.
std::string utc(TimePoint at) {
  const std::int64_t min = micros(at) / 60'000'000;
  const std::int64_t of_day = min % (24 * 60);
  const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return "2023-11-" + std::to_string(14 + min / (24 * 60) - 1'700'000'000 / 86400) + " " + two(of_day / 60) +
         ":" + two(of_day % 60);
}

class ReportOfARecord : public ::testing::Test {
 protected:
  void SetUp() override {
    facts_.record = JobSummary().record();
    record_.began = kBegan;
    facts_.seals = "closed";
    facts_.local = utc;
  }
  [[nodiscard]] std::string sheet() const {
    const std::string page = report_page(facts_);
    const std::size_t begin = page.find("<section class=\"sheet\">");
    return page.substr(begin, page.find("</section>", begin) - begin);
  }
  [[nodiscard]] std::string technician() const {
    const std::string page = report_page(facts_);
    return page.substr(page.find("<section class=\"technician\">"));
  }
  StageRecord& stage(std::string_view name) {
    return *std::find_if(record_.stages.begin(), record_.stages.end(),
                         [&](const StageRecord& one) { return one.stage == name; });
  }
  VerdictEvent& verdict() {
    VerdictEvent one;
    one.kept = true;
    one.out = kBegan + 20min;
    one.in = kBegan + 22min;
    return record_.verdicts.emplace_back(one);
  }
  void entry(std::string_view name, std::string fields, TimePoint at) {
    facts_.notes.on_event(EntryEvent{at, "e", std::string(name), std::move(fields), {}});
  }

  ReportFacts facts_;
  JobRecord& record_ = facts_.record;
};

// --- who, when, which car ---

TEST_F(ReportOfARecord, TheTimeOfTheWorkIsThatOfTheJobAndTheDayStandsOnce) {
  record_.ended = kBegan + 1h;
  EXPECT_THAT(sheet(), HasSubstr(">2023-11-14 22:13 to 23:13<"));
  record_.ended = kBegan + 3h;
  EXPECT_THAT(sheet(), HasSubstr(">2023-11-14 22:13 to 2023-11-15 01:13<"));
  record_.ended.reset();
  record_.last = kBegan + 10min;
  EXPECT_THAT(sheet(), HasSubstr(">2023-11-14 22:13, not finished; as of 22:23<"));
}

TEST_F(ReportOfARecord, WithoutAWordOnHowTimesAreWrittenTheyAreSeconds) {
  facts_.local = nullptr;
  record_.ended = kBegan + 1h;
  EXPECT_THAT(sheet(), HasSubstr("1700000000.000000 to 1700003600.000000"));
  verdict();
  EXPECT_THAT(technician(), HasSubstr("1700001200.000000, 20:00 min"));
}

TEST_F(ReportOfARecord, TheOdometerIsThatOfThePersonElseThatOfTheVehicleAndSaysWhich) {
  record_.plate = "XX 0";
  record_.odometer_read_km = 84'211.4;
  EXPECT_THAT(sheet(), HasSubstr("84211 km, as the vehicle says"));
  EXPECT_THAT(technician(), HasSubstr("Odometer read"));
  record_.odometer_typed_km = 84'210;
  EXPECT_THAT(sheet(), HasSubstr("84210 km"));
  EXPECT_THAT(sheet(), Not(HasSubstr("as the vehicle says")));
}

TEST_F(ReportOfARecord, TwoVinsThatDifferAndACopyWithoutNamesAreSaid) {
  EXPECT_THAT(sheet(), Not(HasSubstr("not the same")));
  record_.vin_mismatch = true;
  record_.redacted = true;
  record_.fluid = "an oil";
  record_.batch = "B 7";
  EXPECT_THAT(
      sheet(),
      HasSubstr("The VIN that was written down and the one that the vehicle tells are not the same."));
  EXPECT_THAT(sheet(), HasSubstr("Made from a copy without plate, VIN and customer."));
  EXPECT_THAT(sheet(), HasSubstr("an oil, batch B 7"));
  EXPECT_THAT(technician(), HasSubstr("is this the car of this job?"));
}

// --- what was done ---

TEST_F(ReportOfARecord, EachStageHasItsTimeAndItsPlainName) {
  stage("reception").visits = {{kBegan, kBegan + 30s, false}};  // within one minute
  stage("refill").visits = {{kBegan + 10min, kBegan + 15min, false}};
  stage("level check").visits = {{kBegan + 20min, kBegan + 25min, false}, {kBegan + 30min, {}, true}};
  stage("closing").visits = {{{}, kBegan + 40min, false}};
  stage("exchange").skipped = true;
  stage("exchange").skipped_why = "customer's wish";
  stage("sample").skipped = true;
  record_.stages.push_back(
      {"tea", {{kBegan + 50min, kBegan + 55min, false}}, false, ""});  // of a later version
  const std::string text = sheet();
  EXPECT_THAT(text, HasSubstr(">22:13  Vehicle taken in<"));
  EXPECT_THAT(text, HasSubstr(">22:23 to 22:28  New fluid filled in<"));
  EXPECT_THAT(text, HasSubstr(">22:33  Fluid level checked (2 times), not ended<"));
  EXPECT_THAT(text, HasSubstr(">? to 22:53  Closed up<"));
  EXPECT_THAT(text, HasSubstr(">left out: Fluid exchanged (customer&#39;s wish)<"));
  EXPECT_THAT(text, HasSubstr(">left out: Sample of the fluid taken<"));
  EXPECT_THAT(text, HasSubstr("  tea<"));
  EXPECT_THAT(text, Not(HasSubstr("No step")));
  const std::string pages = technician();
  EXPECT_THAT(pages, HasSubstr("time by hand"));
  EXPECT_THAT(pages, HasSubstr("customer&#39;s wish"));
  EXPECT_THAT(pages, HasSubstr(">open<"));
  EXPECT_THAT(pages, HasSubstr(">?<"));
  EXPECT_THAT(pages, HasSubstr("Not done: road test before"));
}

TEST_F(ReportOfARecord, OfManyPartsTheSheetNamesFourAndSaysSo) {
  record_.parts = {{"filter", "F-1", 1}, {"bolt", "", 12}, {"sealant", "", 0.5}, {"pan", "P-2", 1}};
  EXPECT_THAT(sheet(), HasSubstr("Parts: 1 x filter F-1; 12 x bolt; 0.5 x sealant; 1 x pan P-2<"));
  record_.parts.push_back({"plug", "", 1});
  EXPECT_THAT(sheet(), HasSubstr("1 x pan P-2; and 1 more: see the technician&#39;s pages"));
  EXPECT_THAT(technician(), HasSubstr(">plug</td>"));
}

TEST_F(ReportOfARecord, ACountThatNobodyHasIsShownAsItStands) {
  // No long holds it: a cast of it is undefined behaviour.
  record_.parts = {{"bolt", "", 1e300}};
  EXPECT_THAT(sheet(), ::testing::ContainsRegex("Parts: 1[0-9]+ x bolt<"));
}

TEST_F(ReportOfARecord, LitresAndNewFluidStandOnBoth) {
  BalanceEvent sums;
  sums.reference_c = 15;
  sums.out_l = 4.25;
  sums.in_l = 4.5;
  sums.parts = {{"drain", 4.25, 0}, {"refill", 0, 4.5}};
  record_.balance = sums;
  EXPECT_THAT(sheet(), HasSubstr("Litres as they are at 15 °C."));
  EXPECT_THAT(sheet(), Not(HasSubstr("New fluid")));
  ExchangeEvent exchange;
  record_.exchange = exchange;
  EXPECT_THAT(sheet(), Not(HasSubstr("New fluid"))) << "nothing went through yet";
  exchange.steps = {{2, 0.2, 0.25}, {9, 0.61, 0.85}};
  record_.exchange = exchange;
  const std::string text = sheet();
  for (const char* cell : {"4.25 L", "4.50 L", "together", "drain"}) EXPECT_THAT(text, HasSubstr(cell));
  EXPECT_THAT(text, HasSubstr("calculated: 61\u00a0% to 85\u00a0%"));
  EXPECT_THAT(technician(), HasSubstr("4.250 L"));
  EXPECT_THAT(technician(), HasSubstr("fluid out 4.25 L, in 4.50 L at 15 °C"));
  EXPECT_THAT(technician(), HasSubstr(">9.00 L</td>"));
  record_.balance.reset();
  EXPECT_THAT(technician(), HasSubstr("9.0 L through"));
  EXPECT_THAT(technician(), Not(HasSubstr(">drain</td>")));
}

// --- the level check ---

TEST_F(ReportOfARecord, WhatRanOutOfTheStandpipeIsToldAsItWasSeen) {
  VerdictEvent& one = verdict();
  one.level_seen = LevelSeen{};
  EXPECT_THAT(sheet(), HasSubstr("Seen at the standpipe: no kind of flow entered."));
  one.level_seen = LevelSeen{"thread", 4.5, "T. Example", "a thread", true};
  EXPECT_THAT(sheet(), HasSubstr("Seen at the standpipe: thread, 4.5 mL in 10 s, by T. Example. Asked for: a "
                                 "thread (reached)."));
  one.level_seen->reached = false;
  EXPECT_THAT(sheet(), HasSubstr("(not reached)"));
  EXPECT_THAT(technician(), HasSubstr("Level seen"));
}

TEST_F(ReportOfARecord, TheThermometerAndTheOriginOfTheWindowAreSaid) {
  VerdictEvent& one = verdict();
  EXPECT_THAT(sheet(), HasSubstr("Plug out from 22:33 to 22:35. How warm the fluid was then is not known."));
  one.temp_in_c = 44;
  one.thermometer = Quality::by_hand;
  one.origin = "demo-9/service.toml: invented";
  one.engine_rpm = 703.4;
  facts_.configuration.window = TemperatureWindow{{35}, {45}};
  EXPECT_THAT(sheet(),
              HasSubstr("The fluid had 44 °C when it was in again (second thermometer, read by hand). "
                        "Asked for: 35 to 45 °C (demo-9/service.toml: invented)."));
  EXPECT_THAT(technician(), HasSubstr("703 rpm"));
}

TEST_F(ReportOfARecord, OfSeveralChecksTheLastCountsAndOfManyReasonsFourAreNamed) {
  verdict();
  VerdictEvent& last = verdict();
  last.kept = false;
  last.why = {"first", "second", "third", "fourth", "fifth", "sixth"};
  const std::string text = sheet();
  EXPECT_THAT(text, HasSubstr("This is the last of 2 checks, the one that counts."));
  EXPECT_THAT(text, HasSubstr("fourth"));
  EXPECT_THAT(text, Not(HasSubstr("fifth")));
  EXPECT_THAT(text, HasSubstr("and 2 more: see the technician&#39;s pages"));
  EXPECT_THAT(technician(), HasSubstr("sixth"));
}

TEST_F(ReportOfARecord, WhetherTheCheckCouldStartIsListedAroundThePlug) {
  verdict();
  const auto check = [&](TimePoint at, CheckState state, const char* why) {
    facts_.notes.on_event(CheckEvent{at, state, {why}, ""});
  };
  check(kBegan, CheckState::not_yet, "long before");
  check(kBegan + 19min, CheckState::not_yet, "fluid at 34 °C");
  check(kBegan + 20min, CheckState::may_start, "all is well");
  check(kBegan + 90min, CheckState::not_yet, "long after");
  facts_.notes.on_event(HoldEvent{kBegan + 5min, "R", 3.24, 3, true, Quality::measured, false});
  facts_.notes.on_event(HoldEvent{kBegan + 6min, "D", {}, 3, false, Quality::by_hand, true});
  facts_.fahrenheit = true;
  const std::string pages = technician();
  EXPECT_THAT(pages, HasSubstr("fluid at 93 °F"));
  EXPECT_THAT(pages, HasSubstr("all is well"));
  EXPECT_THAT(pages, Not(HasSubstr("long before")));
  EXPECT_THAT(pages, Not(HasSubstr("long after")));
  EXPECT_THAT(pages, HasSubstr("3.2 s"));
  EXPECT_THAT(pages, HasSubstr("long enough"));
  EXPECT_THAT(pages, HasSubstr("too short"));
  for (int i = 0; i < 100; ++i)
    check(kBegan + 20min + 1s * i, CheckState::not_yet, i % 2 == 0 ? "one" : "two");
  EXPECT_THAT(technician(), Not(HasSubstr("fluid at 93 °F"))) << "the newest ones";
}

// --- fault codes ---

TEST_F(ReportOfARecord, CodesOfAScanAreNamedAndWhatTheScanDidNotReachIsSaid) {
  ScanRecord scan;
  scan.complete = true;
  scan.answered = {"7E8", "7E9"};
  record_.codes_before = scan;
  EXPECT_THAT(sheet(), HasSubstr("No codes told."));
  EXPECT_THAT(sheet(), HasSubstr("In the units asked: 2 answered."));
  EXPECT_THAT(technician(), HasSubstr("The scan is complete for the units that were asked."));
  scan.complete = false;
  scan.why = {"the plug came out", "7EA did not answer"};
  scan.silent = {"7EA"};
  scan.ended = kBegan + 5min;
  scan.not_asked = {"700 to 703"};
  scan.codes = {{"7E9", "P0711-1F", {"confirmed"}, "fluid temperature sensor", "stop first"}};
  for (int i = 1; i < 7; ++i) scan.codes.push_back({"7E8", "P030" + std::to_string(i), {}, "", ""});
  record_.codes_after = scan;
  const std::string text = sheet();
  EXPECT_THAT(text, HasSubstr("P0711-1F fluid temperature sensor (7E9)"));
  EXPECT_THAT(text, HasSubstr("P0304 (7E8)"));
  EXPECT_THAT(text, Not(HasSubstr("P0305"))) << "five are named";
  EXPECT_THAT(text, HasSubstr("and 2 more: see the technician&#39;s pages"));
  EXPECT_THAT(text, HasSubstr("In the units asked: 2 answered, 1 silent."));
  EXPECT_THAT(text, HasSubstr("Not complete: the plug came out; 7EA did not answer"));
  const std::string pages = technician();
  for (const char* words : {"P0306", "confirmed", "stop first", "The scan is not complete: the plug came out",
                            "700 to 703", "2023-11-14 22:18"})
    EXPECT_THAT(pages, HasSubstr(words));
  record_.codes_after->answered.clear();
  EXPECT_THAT(technician(), HasSubstr("nobody"));
}

TEST_F(ReportOfARecord, AfterAgainstBeforeIsForTheTechnician) {
  ComparedEvent compared;
  compared.lines = {{"7E9", "P0711-1F", CodeChange::gone, {"confirmed"}, {}}};
  record_.compared = compared;
  EXPECT_THAT(technician(), HasSubstr("After against before, not complete"));
  EXPECT_THAT(technician(), HasSubstr("P0711-1F"));
  record_.compared->complete = true;
  EXPECT_THAT(technician(), HasSubstr(">After against before<"));
}

// --- what is left, photos, the file ---

TEST_F(ReportOfARecord, FiveOpenItemsStandOnTheSheetAndNoneThatIsDone) {
  const auto open = [&](const char* text, bool automatic, OpenItemState state, const char* by) {
    record_.open_items.push_back({text, text, automatic, state, by, "", ""});
  };
  open("done long ago", false, OpenItemState::done, "T. Example");
  open("cool below 30 °C", true, OpenItemState::open, "");
  open("typed: 30 °C", false, OpenItemState::open, "");
  open("customer is told", false, OpenItemState::signed_over, "A. Example");
  facts_.fahrenheit = true;
  std::string text = sheet();
  EXPECT_THAT(text, Not(HasSubstr("done long ago")));
  EXPECT_THAT(text, HasSubstr("cool below 86 °F"));
  EXPECT_THAT(text, HasSubstr("typed: 30 °C")) << "a person's words stay";
  EXPECT_THAT(text, HasSubstr("customer is told (taken over by A. Example)"));
  for (const char* one : {"four", "five", "six"}) open(one, false, OpenItemState::open, "");
  text = sheet();
  EXPECT_THAT(text, Not(HasSubstr("six")));
  EXPECT_THAT(text, HasSubstr("and 1 more: see the technician&#39;s pages"));
  record_.open_items[0].answer = "by phone";
  record_.open_items[0].missing = "no photo";
  EXPECT_THAT(technician(), HasSubstr("done long ago; T. Example; by phone (no photo)"));
  EXPECT_THAT(technician(), HasSubstr("cool below 86 °F"));
}

TEST_F(ReportOfARecord, OfManyPhotosTheFirstAndTheLastTwoStandOnTheSheet) {
  for (int i = 0; i < 6; ++i)
    facts_.photos.push_back(
        {{kBegan, std::to_string(i) + ".jpg", "00", {}, "image/jpeg", "pan " + std::to_string(i)},
         "data:image/jpeg;base64,AAAA",
         ""});
  facts_.photos[5].photo.of.clear();
  const std::string text = sheet();
  for (const char* shown : {"pan 0", "pan 1", "pan 4", "photo, 22:13"}) EXPECT_THAT(text, HasSubstr(shown));
  EXPECT_THAT(text, Not(HasSubstr("pan 2")));
  EXPECT_THAT(text, HasSubstr("and 2 more: see the technician&#39;s pages"));
  EXPECT_THAT(technician(), HasSubstr("pan 3"));
  EXPECT_THAT(technician(), HasSubstr("photo, 2023-11-14 22:13, 5.jpg, SHA-256 00"));
}

TEST_F(ReportOfARecord, WithoutASealThereIsNoFingerprintAndNothingToCheckItWith) {
  EXPECT_THAT(sheet(), HasSubstr("It has no fingerprint yet."));
  EXPECT_THAT(technician(), Not(HasSubstr("sumplog verify")));
  facts_.file = "job.log";
  facts_.fingerprint = "0123456789abcdef";
  EXPECT_THAT(sheet(), HasSubstr("01234567 89abcdef"));
  EXPECT_THAT(technician(), HasSubstr("sumplog verify job.log --fingerprint 0123456789abcdef"));
}

// --- the technician's lists ---

TEST_F(ReportOfARecord, ReadingsAndWordsOfPeopleAreListedAndWhatIsLeftOutIsCounted) {
  EXPECT_THAT(technician(), HasSubstr("No reading of a second thermometer."));
  for (int i = 0; i < 203; ++i) entry(kReadingByHand, R"({"value_c":38.5,"place":"pan"})", kBegan + 1s * i);
  entry(kConditionTicked, R"({"condition":"level in both axes","by":"T. Example"})", kBegan);
  entry(kSelectorCycleDone, "{}", kBegan);
  const std::string pages = technician();
  EXPECT_THAT(pages, HasSubstr("38.5 °C"));
  EXPECT_THAT(pages, HasSubstr("3:22 min"));
  EXPECT_THAT(pages, HasSubstr("3 older readings by hand are left out; the job file has them."));
  EXPECT_THAT(pages, HasSubstr("by T. Example"));
  EXPECT_THAT(pages, HasSubstr("selector cycle done"));
}

TEST_F(ReportOfARecord, GapsLossesClockAndRestartsAreSaid) {
  EXPECT_THAT(technician(), HasSubstr("No gap in the readings of the fluid."));
  facts_.notes.on_event(
      GapEvent{kBegan + 70s, BusName("can0"), kBegan + 60s, kBegan + 70s, "the adapter was gone"});
  facts_.notes.on_event(LossEvent{kBegan + 61s, BusName("can0"), "7E9", "a frame is missing", 2});
  facts_.notes.on_event(LossEvent{kBegan + 65s, BusName("can0"), "7E9", "a frame is missing", 3});
  facts_.notes.on_event(LossEvent{kBegan + 65s, BusName("can0"), "7E9", "never ended", 1});
  facts_.notes.on_event(ClockEvent{kBegan + 2min, -90s});
  record_.resumed = 2;
  const std::string pages = technician();
  for (const char* words :
       {"the adapter was gone", "1:00 min", "2 times", "5 frames", "1:01 min to 1:05 min", "never ended",
        "2023-11-14 22:15: the computer&#39;s clock was set by -90.0 s; the times of this job go on.",
        "The program was stopped and went on 2 times."})
    EXPECT_THAT(pages, HasSubstr(words));
}

TEST_F(ReportOfARecord, ThePicturesAreThoseOfTheWholeJobAndAroundEachLevelCheck) {
  EXPECT_THAT(technician(), HasSubstr("There is no reading of the fluid temperature."));
  facts_.whole_course = "<svg id=\"whole\"/>";
  facts_.level_courses = {"<svg id=\"level-1\"/>", "<svg id=\"level-2\"/>"};
  const std::string pages = technician();
  for (const char* picture : {"<svg id=\"whole\"/>", "<svg id=\"level-1\"/>", "<svg id=\"level-2\"/>"})
    EXPECT_THAT(pages, HasSubstr(picture));
  EXPECT_THAT(pages, HasSubstr("Around a level check"));
}

TEST_F(ReportOfARecord, WhereReadingsComeFromIsSaid) {
  EXPECT_THAT(technician(), HasSubstr("No decoder was in use."));
  Decoder& decoder = facts_.configuration.decoders.emplace_back();
  decoder.id = "made-up";
  decoder.signals.emplace_back().name = "fluid_temperature";
  EXPECT_THAT(technician(), HasSubstr("made-up: fluid_temperature"));
}

TEST_F(ReportOfARecord, WhereEveryStageIsDoneNoneIsNamedAsMissing) {
  for (StageRecord& one : record_.stages) one.visits = {{kBegan, kBegan + 1min, false}};
  EXPECT_THAT(technician(), Not(HasSubstr("Not done:")));
}

TEST_F(ReportOfARecord, OneNameIsEnoughForAVehicleThatWasWrittenDown) {
  EXPECT_THAT(sheet(), HasSubstr("not written down"));
  record_.technician = "T. Example";
  EXPECT_THAT(sheet(), Not(HasSubstr("not written down")));
  record_.technician.clear();
  record_.vins_read.emplace_back("7E8", "0TESTCAR7FAKE0001");
  EXPECT_THAT(sheet(), Not(HasSubstr("not written down")));
}

TEST_F(ReportOfARecord, AFileThatWasClosedAndChangedIsChanged) {
  facts_.holds = false;
  EXPECT_THAT(sheet(), HasSubstr("Changed after it was written: see the technician&#39;s pages."));
  EXPECT_THAT(sheet(), Not(HasSubstr("Closed and sealed")));
}

TEST_F(ReportOfARecord, CautionsOfTheServiceFileStandBehindOurs) {
  facts_.configuration.service.emplace();
  EXPECT_THAT(technician(), HasSubstr("<h2>Cautions</h2>"));
  facts_.configuration.service->cautions.emplace();
  facts_.configuration.service->cautions->value = {"hot fluid: wear gloves that it asks for"};
  EXPECT_THAT(technician(), HasSubstr("hot fluid: wear gloves that it asks for"));
}

}  // namespace
}  // namespace sumplog
