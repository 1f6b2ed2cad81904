#include "core/record/job_summary.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "core/journal/flow_run.h"
#include "core/journal/wrapped_text.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::Pair;
using ::testing::SizeIs;

constexpr const char* kVin = "1M8GDM9AXKP042788";  // the worked example of 49 CFR 565

/// A job of the demo family with its summary; every item passes the flow first.
class JobSummaryTest : public ::testing::Test {
 protected:
  JobSummaryTest() {
    for (const Item& item : demo_opening({{"service", "demo-9"}})) feed_item(item);
  }
  void feed_item(const Item& item) {
    run_.feed(item);
    feed(summary_, item, run_.out().events);
  }
  void enter(const std::string& name, const std::string& fields) {
    now_ += 5s;
    feed_item(Entry{now_, "e" + std::to_string(++entries_), name, fields});
  }
  void stage(const std::string& name, const std::string& stage) {
    enter(name, R"({"stage":")" + stage + "\"}");
  }
  /// Straight to the summary: what the core says of it is tested elsewhere.
  void tell(const Event& event) { summary_.on_event(event); }
  JobRecord record() const { return summary_.record(); }
  StageRecord stage_record(const std::string& name) const {
    for (StageRecord& one : record().stages)
      if (one.stage == name) return one;
    return {};
  }
  OpenItem item(const std::string& name) const {
    for (const OpenItem& one : record().open_items)
      if (one.item == name) return one;
    return {};
  }

  FlowRun run_;
  JobSummary summary_;
  TimePoint now_ = kJobStart + 1s;
  int entries_ = 0;
};

TEST_F(JobSummaryTest, KnowsWhatTheFileOpensWith) {
  EXPECT_EQ(record().job, "job");
  EXPECT_EQ(record().program, "program");
  EXPECT_EQ(record().service, "demo-9");
  EXPECT_THAT(record().decoders, ElementsAre("obd-generic", "demo-9"));
  EXPECT_FALSE(record().redacted);
  EXPECT_EQ(record().began, kJobStart);
  EXPECT_THAT(record().stages, SizeIs(15));
}

TEST_F(JobSummaryTest, ARedactedCopySaysSo) {
  feed_item(Settings{now_, "job", "program", "", {{"redacted", "yes"}}});
  EXPECT_TRUE(record().redacted);
  EXPECT_THAT(json(record()), HasSubstr(R"("redacted":true)"));
  EXPECT_THAT(text(record()), Contains(HasSubstr("A copy without plate, VIN and customer.")));
}

TEST_F(JobSummaryTest, AtReceptionTheLastWordCounts) {
  enter("intake", R"({"plate":"X 1","vin":"a","odometer_km":120000,"customer":"C.","complaint":"judders",)"
                  R"("technician":"K.","transmission":"cvt","unit":"U","fluid":"F","batch":"B"})");
  enter("intake", R"({"plate":"X 2"})");
  EXPECT_EQ(record().plate, "X 2");
  EXPECT_EQ(record().customer, "C.");
  EXPECT_EQ(record().complaint, "judders");
  EXPECT_EQ(record().technician, "K.");
  EXPECT_EQ(record().transmission, "cvt");
  EXPECT_EQ(record().unit, "U");
  EXPECT_EQ(record().fluid, "F");
  EXPECT_EQ(record().batch, "B");
  EXPECT_EQ(record().odometer_typed_km, 120000);
}

TEST_F(JobSummaryTest, TheFluidThatWasPouredInReplacesTheOneOfTheReception) {
  enter("intake", R"({"fluid":"F","batch":"B"})");
  enter("fluid_in", R"({"litres":4,"batch":"B2","part":"refill"})");
  EXPECT_EQ(record().fluid, "F");
  EXPECT_EQ(record().batch, "B2");
}

TEST_F(JobSummaryTest, ATypedVinThatTheCarDoesNotHaveIsShown) {
  VehicleEvent vehicle;
  vehicle.ecu = "7E9";
  vehicle.vin = kVin;
  tell(vehicle);
  EXPECT_EQ(record().vin(), kVin) << "read, where nobody typed one";
  enter("intake", R"({"vin":"{1m8-gdm9axkp042788} "})");
  EXPECT_FALSE(record().vin_mismatch) << "how it is typed makes no difference";
  EXPECT_TRUE(record().may_close);
  enter("intake", R"({"vin":"1M8GDM9AXKP042789"})");
  EXPECT_TRUE(record().vin_mismatch);
  EXPECT_EQ(item("vin").state, OpenItemState::open);
  EXPECT_FALSE(record().may_close);
  EXPECT_THAT(text(record()), Contains(HasSubstr("!! These VINs are not the same")));
}

TEST_F(JobSummaryTest, TwoUnitsThatTellDifferentVinsAreShown) {
  VehicleEvent vehicle;
  vehicle.ecu = "7E8";
  vehicle.vin = kVin;
  tell(vehicle);
  EXPECT_FALSE(record().vin_mismatch);
  vehicle.ecu = "7E9";
  vehicle.vin = "1M8GDM9AXKP042789";
  tell(vehicle);
  EXPECT_TRUE(record().vin_mismatch);
  EXPECT_THAT(record().vins_read, ElementsAre(Pair("7E8", kVin), Pair("7E9", "1M8GDM9AXKP042789")));
}

TEST_F(JobSummaryTest, KeepsTheOdometerThatWasReadApartFromTheTypedOne) {
  ReadingEvent reading;
  reading.signal = "odometer";
  for (const double km : {120003.4, 120011.0}) {
    reading.value = km;
    tell(reading);
  }
  reading.quality = Quality::suspect;
  reading.value = 7;
  tell(reading);
  EXPECT_EQ(record().odometer_read_km, 120003.4);
  EXPECT_EQ(record().odometer_read_last_km, 120011.0);
  EXPECT_FALSE(record().odometer_typed_km);
}

TEST_F(JobSummaryTest, StagesAreDoneOpenLeftOutOrNotDone) {
  stage("stage_begun", "refill");
  const TimePoint begun = now_;
  EXPECT_EQ(stage_record("refill").state(), StageState::open);
  stage("stage_ended", "refill");
  EXPECT_EQ(stage_record("refill").state(), StageState::done);
  EXPECT_EQ(stage_record("refill").visits[0].begun, begun);
  EXPECT_EQ(stage_record("refill").visits[0].ended, now_);
  stage("stage_begun", "refill");
  EXPECT_THAT(stage_record("refill").visits, SizeIs(2));
  enter("stage_skipped", R"({"stage":"road test after","why":"no plates"})");
  EXPECT_EQ(stage_record("road test after").state(), StageState::skipped);
  EXPECT_EQ(stage_record("road test after").skipped_why, "no plates");
  EXPECT_EQ(stage_record("sample").state(), StageState::not_done);
  EXPECT_THAT(text(record()), Contains(HasSubstr("left out: no plates")));
}

TEST_F(JobSummaryTest, AStageOfWhichOnlyTheEndWasEnteredHasNoBegin) {
  enter("stage_ended", R"({"stage":"sample","ago_s":60})");
  ASSERT_THAT(stage_record("sample").visits, SizeIs(1));
  EXPECT_FALSE(stage_record("sample").visits[0].begun);
  EXPECT_EQ(stage_record("sample").visits[0].ended, now_ - 60s);
  EXPECT_TRUE(stage_record("sample").visits[0].late);
}

TEST_F(JobSummaryTest, ACodeThatAUnitTellsInTwoWaysStandsOnce) {
  CodesEvent codes;
  codes.scan = "before";
  codes.ecu = "7E9";
  codes.service = "03";
  codes.codes = {{"P0711", {"stored"}, "0711", "", "", ""}};
  tell(codes);
  codes.service = "19 02";
  codes.codes = {{"P0711-1F", {"confirmed"}, "07111F", "sensor", "stop first", "may be a substitute"}};
  tell(codes);
  EXPECT_FALSE(record().codes_before->complete) << "it has not ended";
  ScanEvent scan;
  scan.at = now_;
  scan.scan = "before";
  scan.answered = {"7E9"};
  scan.complete = true;
  tell(scan);
  ASSERT_THAT(record().codes_before->codes, SizeIs(1));
  const ScanRecord::Code code = record().codes_before->codes[0];
  EXPECT_EQ(code.code, "P0711-1F");
  EXPECT_THAT(code.status, ElementsAre("confirmed", "stored"));
  EXPECT_EQ(code.code_class, "stop first");
  EXPECT_TRUE(record().codes_before->complete);
  EXPECT_THAT(item("codes before").text, HasSubstr("7E9 P0711-1F"));
}

TEST_F(JobSummaryTest, ASecondScanReplacesTheFirstOfItsName) {
  CodesEvent codes;
  codes.scan = "before";
  codes.ecu = "7E9";
  codes.codes = {{"P0711", {}, "", "", "", ""}};
  ScanEvent scan;
  scan.scan = "before";
  tell(codes);
  tell(scan);
  codes.codes = std::vector<CodeLine>{};
  tell(codes);
  tell(scan);
  EXPECT_THAT(record().codes_before->codes, IsEmpty());
  EXPECT_FALSE(record().codes_after);
}

TEST_F(JobSummaryTest, ScansAfterAreKeptApartAndThoseOnTheWayAreNoneOfTheTwo) {
  CodesEvent codes;
  codes.ecu = "7E9";
  codes.codes = {{"P0711", {"stored"}, "", "", "", ""}};
  for (const char* const scan : {"", "during"}) {
    codes.scan = scan;
    tell(codes);
    ScanEvent ended;
    ended.scan = scan;
    tell(ended);
  }
  EXPECT_FALSE(record().codes_before);
  EXPECT_FALSE(record().codes_after);
  CodesEvent refused;
  refused.scan = "after";
  refused.ecu = "7E8";
  refused.refused = "not readable without another session";
  tell(refused);
  EXPECT_FALSE(record().codes_after) << "it told no list";
  codes.scan = "after";
  tell(codes);
  tell(codes);
  codes.ecu = "7E8";
  tell(codes);
  ASSERT_THAT(record().codes_after->codes, SizeIs(2)) << "one for each unit";
  EXPECT_THAT(record().codes_after->codes[0].status, ElementsAre("stored"));
  ScanEvent ended;
  ended.scan = "after";
  tell(ended);
  ComparedEvent compared;
  compared.lines = {{"7E9", "P0711", CodeChange::appeared, {}, {"stored"}}};
  tell(compared);
  EXPECT_THAT(record().compared->lines, SizeIs(1));
}

TEST_F(JobSummaryTest, ACodeOfAnotherUnitOrOfAnotherNumberIsAnotherCode) {
  CodesEvent codes;
  codes.scan = "before";
  codes.ecu = "7E8";
  codes.codes = {{"P0711", {"stored"}, "", "", "", ""}, {"P0712", {"stored"}, "", "", "", ""}};
  tell(codes);
  codes.ecu = "7E9";
  codes.codes = {{"P0711", {"stored"}, "", "", "", ""}, {"P0711-1F", {"confirmed"}, "", "", "", ""}};
  tell(codes);
  ScanEvent ended;
  ended.scan = "before";
  tell(ended);
  EXPECT_THAT(record().codes_before->codes, SizeIs(3));
}

TEST_F(JobSummaryTest, TheLastWordOfAUnitAboutItsVinCounts) {
  VehicleEvent vehicle;
  vehicle.ecu = "7E8";
  tell(vehicle);  // of something else
  EXPECT_THAT(record().vins_read, IsEmpty());
  for (const char* const vin : {"1M8GDM9AXKP042789", kVin}) {
    vehicle.vin = vin;
    tell(vehicle);
  }
  EXPECT_THAT(record().vins_read, ElementsAre(Pair("7E8", kVin)));
}

TEST_F(JobSummaryTest, OnlyTheOdometerAndOnlyAValueIsTakenForIt) {
  ReadingEvent reading;
  reading.signal = "odometer";
  tell(reading);
  reading.signal = "engine_speed";
  reading.value = 700;
  tell(reading);
  EXPECT_FALSE(record().odometer_read_km);
}

TEST_F(JobSummaryTest, WhatPassesOnTheWayLeavesNoTrace) {
  const std::string before = json(record());
  ThermalEvent thermal{};
  WindowEvent window{};
  CheckEvent check{};
  CueEvent cue{};
  ForecastEvent forecast{};
  HoldEvent hold{};
  ClockEvent clock{};
  StageEvent stage{};
  stage.stage = "tea";  // no stage of ours
  for (const Event& event : {Event(thermal), Event(window), Event(check), Event(cue), Event(forecast),
                             Event(hold), Event(clock), Event(stage)})
    tell(event);
  EXPECT_EQ(json(record()), before);
}

TEST_F(JobSummaryTest, AStageThatWasBegunLateAndEndedInTimeIsAPersonsWord) {
  enter("stage_begun", R"({"stage":"sample","ago_s":60})");
  stage("stage_ended", "sample");
  ASSERT_THAT(stage_record("sample").visits, SizeIs(1));
  EXPECT_TRUE(stage_record("sample").visits[0].late);
}

TEST_F(JobSummaryTest, APhotoOfAnImpossibleSizeHasNone) {
  for (const char* const bytes : {"-1", "1e15", "\"many\""}) {
    enter("photo", std::string(R"({"file":"a.jpg","sha256":"00ff","bytes":)") + bytes + "}");
    EXPECT_FALSE(record().photos.back().bytes) << bytes;
  }
}

TEST_F(JobSummaryTest, AnItemWithoutANameIsNoItem) {
  enter("open_item", R"({"text":"check"})");
  enter("open_item", R"({"item":""})");
  enter("open_item_done", R"({"by":"K."})");
  EXPECT_THAT(record().open_items, IsEmpty());
  enter("open_item", R"({"item":"torque"})");
  enter("open_item", R"({"item":"torque","text":"check the pan"})");
  ASSERT_THAT(record().open_items, SizeIs(1));
  EXPECT_EQ(record().open_items[0].text, "check the pan");
  EXPECT_FALSE(record().may_close);
}

TEST_F(JobSummaryTest, TheFirstSettingsNameTheJob) {
  feed_item(Settings{now_, "other", "another", "Europe/Vienna", {{"redacted", "no"}}});
  EXPECT_EQ(record().job, "job");
  EXPECT_EQ(record().program, "program");
  EXPECT_EQ(record().time_zone, "Europe/Vienna") << "the first that is said";
  feed_item(Settings{now_, "other", "another", "Asia/Tokyo", {}});
  EXPECT_EQ(record().time_zone, "Europe/Vienna");
  EXPECT_FALSE(record().redacted);
  feed_item(DecoderText{now_, "signals.toml", ""});
  feed_item(DecoderText{now_, "demo-9/codes.toml", ""});
  EXPECT_THAT(record().decoders, ElementsAre("obd-generic", "demo-9"));
}

TEST_F(JobSummaryTest, TheLastWordOnEachLevelCheckIsKept) {
  VerdictEvent verdict;
  verdict.out = now_;
  verdict.in = now_ + 60s;
  verdict.kept = true;
  tell(verdict);
  verdict.level_seen = LevelSeen{"drip", {}, "", "drip", true};
  tell(verdict);
  EXPECT_THAT(record().verdicts, SizeIs(1)) << "the same check, with the level that was seen";
  EXPECT_TRUE(record().verdict()->level_seen);
  verdict.out = now_ + 10min;
  verdict.in = now_ + 11min;
  verdict.kept = false;
  tell(verdict);
  EXPECT_THAT(record().verdicts, SizeIs(2));
  EXPECT_FALSE(record().verdict()->kept);
}

// A page showed "conditions kept", and below it the millilitres of the check before.
TEST_F(JobSummaryTest, TheEstimateOfTheLevelIsThatOfTheLastCheck) {
  VerdictEvent check;
  check.in = kJobStart + 60s;
  tell(check);
  tell(LevelSumsEvent{check.in, 50, 45, 10, 7.6, {34, 38, 39}, {}});
  check.level_seen = LevelSeen{"drip", {}, "", "", {}};
  tell(check);  // what was seen is entered afterwards
  EXPECT_TRUE(record().level_sums);
  check.in += 300s;
  check.kept = true;
  tell(check);
  EXPECT_FALSE(record().level_sums);
}

TEST_F(JobSummaryTest, PartsNotesAndPhotosAreKept) {
  enter("part_used", R"({"part":"filter","number":"123","count":2})");
  enter("part_used", R"({"part":"gasket"})");
  enter("note", R"({"text":"magnets clean","by":"K."})");
  enter("photo", R"({"file":"a.jpg","sha256":"00ff","bytes":12345,"type":"image/jpeg","of":"magnet"})");
  ASSERT_THAT(record().parts, SizeIs(2));
  EXPECT_EQ(record().parts[0].count, 2);
  EXPECT_EQ(record().parts[1].count, 1);
  EXPECT_EQ(record().notes[0].text, "magnets clean");
  EXPECT_EQ(record().notes[0].by, "K.");
  EXPECT_EQ(record().photos[0].sha256, "00ff");
  EXPECT_EQ(record().photos[0].bytes, 12345U);
}

TEST_F(JobSummaryTest, FluidSumsAreTheLatest) {
  enter("fluid_out", R"({"litres":4,"part":"drain"})");
  enter("fluid_in", R"({"litres":3,"part":"refill"})");
  EXPECT_EQ(record().balance->in_l, 3);
  EXPECT_NEAR(record().exchange->drained_share, 0.3, 1e-9);
}

TEST_F(JobSummaryTest, CountsGapsLossesAndInterruptions) {
  tell(GapEvent{now_, {}, now_ - 40s, now_, "no answer"});
  tell(GapEvent{now_, {}, now_ - 10s, now_, "no answer"});
  tell(LossEvent{now_, {}, "", "x", 1});
  feed_item(End{now_});
  EXPECT_EQ(record().ended, now_);
  feed_item(Resume{now_ + 1s});
  EXPECT_FALSE(record().ended) << "it goes on";
  EXPECT_EQ(record().gaps, 2U);
  EXPECT_EQ(record().longest_gap, 40s);
  EXPECT_EQ(record().losses, 1U);
  EXPECT_EQ(record().resumed, 1U);
  EXPECT_EQ(record().last, now_ + 1s);
}

TEST_F(JobSummaryTest, AJobWithAllDoneMayBeClosed) {
  EXPECT_TRUE(record().may_close);
  enter("open_item", R"({"item":"torque","text":"check the pan's torque"})");
  EXPECT_FALSE(record().may_close);
  EXPECT_THAT(record().missing, ElementsAre("torque: check the pan's torque"));
  enter("open_item_done", R"({"item":"torque","by":"K."})");
  EXPECT_TRUE(record().may_close);
  enter("open_item", R"({"item":"torque"})");
  EXPECT_FALSE(record().may_close) << "put on the list again";
  enter("open_item_signed_over", R"({"item":"torque","by":"the customer"})");
  EXPECT_TRUE(record().may_close);
  EXPECT_EQ(item("torque").state, OpenItemState::signed_over);
}

TEST_F(JobSummaryTest, WorkOnTheFluidHasDutiesThatCanBeSettled) {
  enter("intake", R"({"transmission":"hybrid"})");
  enter("fluid_out", R"({"litres":4,"part":"drain","temp_c":20})");
  EXPECT_FALSE(record().may_close);
  for (const char* name : {"scan before", "scan after", "road test before", "road test after", "level check",
                           "maintenance mode", "fluid counter", "safety list"}) {
    EXPECT_EQ(item(name).state, OpenItemState::open) << name;
    enter("open_item_signed_over", std::string(R"({"item":")") + name + R"(","by":"K."})");
    EXPECT_EQ(item(name).state, OpenItemState::signed_over) << name;
  }
  EXPECT_THAT(record().missing, ElementsAre("waste: book as waste what came out: 4.0 L at 20 °C"));
  enter("open_item_done", R"({"item":"waste","litres":4.1})");
  EXPECT_TRUE(record().may_close);
  enter("fluid_out", R"({"litres":1,"part":"pan","temp_c":20})");
  EXPECT_EQ(item("waste").missing, "4.1 L are booked, 5.0 L came out");
  EXPECT_FALSE(record().may_close);
}

TEST_F(JobSummaryTest, ARepeatedEntryCountsOnce) {
  enter("note", R"({"text":"one"})");
  feed_item(Entry{now_, "e1", "note", R"({"text":"one"})"});
  EXPECT_THAT(record().notes, SizeIs(1));
}

TEST_F(JobSummaryTest, IsOneJsonObject) {
  enter("intake", R"({"plate":"X \"1\"","transmission":"cvt"})");
  stage("stage_begun", "refill");
  enter("fluid_in", R"({"litres":3})");
  enter("note", R"({"text":"line\nbreak"})");
  const std::string line = json(record());
  EXPECT_THAT(line, Not(HasSubstr("\n")));
  const auto parsed = nlohmann::json::parse(line);
  EXPECT_EQ(parsed["plate"], "X \"1\"");
  EXPECT_EQ(parsed["state"], "open");
  EXPECT_EQ(parsed["stages"].size(), 15U);
  EXPECT_EQ(parsed["balance"]["kind"], "sums");
  EXPECT_EQ(parsed["may_close"], false);
  EXPECT_FALSE(parsed.contains("ended_t"));
  EXPECT_FALSE(parsed.contains("odometer_typed_km")) << "not known is absent";
}

TEST_F(JobSummaryTest, AnEmptyJobHasASheetToo) {
  const JobRecord empty = JobSummary().record();
  EXPECT_THAT(text(empty), Contains("Fault codes before the work: not read"));
  EXPECT_THAT(text(empty), Contains(HasSubstr("The vehicle maker's procedure comes first")));
  EXPECT_TRUE(nlohmann::json::accept(json(empty)));
}

TEST_F(JobSummaryTest, TheSheetFitsATerminal) {
  enter(
      "intake",
      R"({"plate":"X 1","complaint":"judders between fifty and eighty in the two upper gears when it is warm, mostly uphill"})");
  stage("stage_begun", "exchange");
  enter("fluid_out", R"({"litres":4})");
  enter("fluid_in", R"({"litres":3})");
  for (const std::string& line : text(record())) EXPECT_LE(columns_of(line), kColumns) << line;
}

TEST_F(JobSummaryTest, TheSheetTellsTimesTheWayItIsAsked) {
  EXPECT_THAT(text(record()), Contains(HasSubstr("2023-11-14 22:13 UTC")));  // 1700000000, by date(1)
  EXPECT_THAT(text(record(), [](TimePoint) { return std::string("noon"); }), Contains(HasSubstr("noon")));
}

TEST_F(JobSummaryTest, AScanInWhichNoUnitToldAListStillCounts) {
  ScanEvent ended;
  ended.scan = "before";
  ended.silent = {"7E9"};
  tell(ended);
  ASSERT_TRUE(record().codes_before);
  EXPECT_THAT(record().codes_before->silent, ElementsAre("7E9"));
  ended.complete = true;
  tell(ended);
  EXPECT_TRUE(record().codes_before->complete) << "the second replaces it";
}

}  // namespace
}  // namespace sumplog::testing
