// The record as a sheet for a terminal.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

#include "core/journal/wrapped_text.h"
#include "core/record/job_record.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr TimePoint kAt = at_micros(1700000000000000);  // 2023-11-14 22:13 UTC, by date(1)

std::string sheet(const JobRecord& record) {
  return joined(text(record), "\n");
}

TEST(JobSheet, TellsWhatIsKnownOfTheCarAndNothingElse) {
  JobRecord record;
  record.job = "00ff";
  record.began = kAt;
  record.last = kAt + 2min;
  EXPECT_THAT(sheet(record), HasSubstr("Job 00ff\n  began               2023-11-14 22:13 UTC\n"
                                       "  open                last written to 2023-11-14 22:15 UTC\n"));
  EXPECT_THAT(sheet(record), HasSubstr("\nVehicle\n\nStages"));
  record.ended = kAt + 3min;
  record.plate = "X 1";
  record.vins_read = {{"7E8", "0TESTCAR0FAKE0001"}};
  record.odometer_typed_km = 120000;
  record.odometer_read_km = 120003.4;
  const std::string text = sheet(record);
  EXPECT_THAT(text, HasSubstr("  closed              2023-11-14 22:16 UTC\n"));
  EXPECT_THAT(text, Not(HasSubstr("last written to")));
  EXPECT_THAT(text, HasSubstr("  plate               X 1\n  VIN read            0TESTCAR0FAKE0001\n"
                              "                      by unit 7E8\n  odometer typed      120000 km\n"
                              "  odometer read       120003 km\n"));
  EXPECT_THAT(text, Not(HasSubstr("customer")));
}

TEST(JobSheet, ATimeHasTwoDigitsOfEach) {
  JobRecord record;
  record.job = "00ff";
  record.began = record.last = at_micros(1672628640000000);  // by date(1)
  EXPECT_THAT(sheet(record), HasSubstr("  began               2023-01-02 03:04 UTC\n"));
}

TEST(JobSheet, ATerminalHasNothingToObey) {
  JobRecord record;
  record.job = "00\x1b[2Jff";
  record.plate = "X\x1b[31m 1";
  record.customer =
      "A\xC2\x9B"
      "31mB \xC2\xA7 \x7F";
  record.notes.push_back({kAt, "red \x1b[31m\nand \a back", "K"});
  record.parts = {{"filter\x1b[5m", "1", 1}};
  const std::string text = sheet(record);
  EXPECT_THAT(text, HasSubstr("Job 00 [2Jff\n"));
  EXPECT_THAT(text, HasSubstr("  plate               X [31m 1\n"));
  EXPECT_THAT(text, HasSubstr("A 31mB \xC2\xA7")) << "the section sign is no control character";
  EXPECT_THAT(text, HasSubstr("red  [31m and   back (K)"));
  EXPECT_THAT(text, HasSubstr("  filter [5m"));
  for (const char* const control : {"\x1b", "\a", "\x7F", "\xC2\x9B"})
    EXPECT_THAT(text, Not(HasSubstr(control)));
}

TEST(JobSheet, WhatOnlyBeginsLikeAControlCharacterIsLeftAsItIs) {
  JobRecord record;
  record.job = "00ff";
  record.plate = "A\xC2";
  EXPECT_THAT(sheet(record), HasSubstr("  plate               A\xC2\n"));
  record.plate =
      "A\xC2"
      "B";
  EXPECT_THAT(sheet(record), HasSubstr("  plate               A\xC2"
                                       "B\n"));
}

TEST(JobSheet, TellsOfEachStageWhenItWasOrWhyNot) {
  JobRecord record;
  record.stages = {{"refill", {{kAt, kAt + 5min, false}, {kAt + 10min, {}, false}}, false, ""},
                   {"sample", {{{}, kAt + 1min, true}}, false, ""},
                   {"road test after", {}, true, "no plates"},
                   {"closing", {}, true, ""},
                   {"exchange", {}, false, ""},
                   {"line opened", {}, false, ""}};
  const std::string text = sheet(record);
  EXPECT_THAT(text, HasSubstr("  refill              2023-11-14 22:13 UTC to 2023-11-14 22:18 UTC\n"
                              "  refill              2023-11-14 22:23 UTC, open\n"
                              "  sample              ? to 2023-11-14 22:14 UTC (time by hand)\n"
                              "  road test after     left out: no plates\n  closing             left out\n"
                              "  not done            exchange, line opened\n"));
}

TEST(JobSheet, TellsWhatTheScansTold) {
  JobRecord record;
  ScanRecord before;
  before.complete = false;
  before.why = {"7E9 did not answer"};
  before.codes = {{"7E8", "P0711", {"stored", "pending"}, "fluid temperature sensor", "decide first"},
                  {"7E8", "P0741", {}, "", ""}};
  before.silent = {"7E9"};
  before.not_asked = {"units behind gateways"};
  record.codes_before = before;
  ScanRecord after;
  after.complete = true;
  record.codes_after = after;
  ComparedEvent compared;
  compared.lines = {{"7E8", "P0711", CodeChange::gone, {"stored"}, {}}};
  record.compared = compared;
  const std::string text = sheet(record);
  EXPECT_THAT(text,
              HasSubstr("Fault codes before the work\n  The scan is not complete: 7E9 did not answer\n"
                        "  7E8 P0711           stored, pending\n"
                        "                      fluid temperature sensor\n                      decide first\n"
                        "  silent              7E9\n  not asked           units behind gateways\n"));
  EXPECT_THAT(text,
              HasSubstr("Fault codes after the work\n  The scan is complete for the units that were asked.\n"
                        "  No codes told.\n"));
  EXPECT_THAT(text, HasSubstr("After against before, not complete\n  7E8  P0711  gone: stored\n"));
  record.compared->complete = true;
  EXPECT_THAT(sheet(record), HasSubstr("After against before\n"));
}

TEST(JobSheet, TellsTheFluidAndEachLevelCheck) {
  JobRecord record;
  EXPECT_THAT(sheet(record), Not(HasSubstr("\nFluid\n")));
  EXPECT_THAT(sheet(record), HasSubstr("Level check\n  No plug was put back after a level check.\n"));
  BalanceEvent balance{};
  balance.reference_c = 20;
  balance.out_l = 4;
  balance.in_l = 3;
  balance.parts = {{"drain", 4, 0}, {"refill", 0, 3}};
  record.balance = balance;
  VerdictEvent kept;
  kept.out = kAt;
  kept.in = kAt + 1min;
  kept.kept = true;
  kept.temp_out_c = 37;
  kept.by_hand = {"car level"};
  kept.origin = "demo-9/service.toml: invented";
  VerdictEvent broken = kept;
  broken.kept = false;
  broken.why = {"the engine was off", "the vehicle moved"};
  broken.level_seen = LevelSeen{"drip", {}, "K.", "", {}};
  record.verdicts = {broken, kept};
  const std::string text = sheet(record);
  EXPECT_THAT(text, HasSubstr("Fluid\n  drain               out 4.00 L, in 0.00 L\n"
                              "  refill              out 0.00 L, in 3.00 L\n"));
  EXPECT_THAT(text, HasSubstr("  plug out to plug in 2023-11-14 22:13 UTC to 2023-11-14 22:14 UTC\n"
                              "  conditions          not kept: the engine was off; the vehicle moved\n"
                              "  thermometer         measured\n  temperature         plug out 37.0 °C\n"
                              "  by hand             car level\n  level seen          drip, by K.\n"
                              "  window              demo-9/service.toml: invented\n"));
  EXPECT_THAT(text, HasSubstr("  conditions          kept\n"));
  EXPECT_THAT(text, HasSubstr("  level seen          not entered\n"));
  EXPECT_THAT(text, HasSubstr("  Conditions that were kept say nothing of the level itself"));
  record.balance.reset();
  ExchangeEvent exchange{};
  exchange.fill_l = 10;
  record.exchange = exchange;
  EXPECT_THAT(sheet(record), HasSubstr("\nFluid\n"));
}

TEST(JobSheet, TellsPartsNotesAndPhotos) {
  JobRecord record;
  for (const char* const title : {"\nParts\n", "\nNotes\n", "\nPhotos\n"})
    EXPECT_THAT(sheet(record), Not(HasSubstr(title)));
  record.parts = {{"filter", "123", 2}, {"hose", "9", 0.5}};
  record.notes = {{kAt, "magnets clean", "K."}, {kAt, "pan dented", ""}};
  record.photos = {{kAt, "a.jpg", "00ff", {}, "image/jpeg", "magnet"}, {kAt, "b.jpg", "11ee", {}, "", ""}};
  const std::string text = sheet(record);
  EXPECT_THAT(text, HasSubstr("Parts\n  filter              2 x 123\n  hose                0.5 x 9\n"));
  EXPECT_THAT(text, HasSubstr("Notes\n  2023-11-14 22:13 UTC magnets clean (K.)\n"
                              "  2023-11-14 22:13 UTC pan dented\n"));
  EXPECT_THAT(text,
              HasSubstr("Photos\n  magnet              a.jpg  00ff\n  photo               b.jpg  11ee\n"));
}

TEST(JobSheet, TellsWhatTheRecordingLacksInTheRightNumber) {
  JobRecord record;
  EXPECT_THAT(sheet(record), HasSubstr("Recording\n  No gap in the readings of the fluid.\n\nLeft to do"));
  record.gaps = record.losses = 1;
  record.longest_gap = 40s;
  record.resumed = 2;
  EXPECT_THAT(sheet(record),
              HasSubstr("Recording\n  1 gap in the readings of the fluid, the longest of 40 s.\n"
                        "  1 loss on the bus; the journal names them.\n"
                        "  The program was stopped and went on 2 times.\n"));
  record.gaps = record.losses = 3;
  EXPECT_THAT(sheet(record), HasSubstr("  3 gaps in"));
  EXPECT_THAT(sheet(record), HasSubstr("  3 losses on"));
}

TEST(JobSheet, TellsWhatIsLeftToDoAndByWhomItWasDone) {
  JobRecord record;
  record.may_close = true;
  EXPECT_THAT(sheet(record), HasSubstr("Left to do\n  Nothing.\n  The job may be closed.\n"));
  record.open_items = {{"torque", "check the pan", false, OpenItemState::done, "K.", "40 Nm", ""},
                       {"waste", "book it", true, OpenItemState::open, "", "", "it has changed since"}};
  record.may_close = false;
  EXPECT_THAT(sheet(record), HasSubstr("  [done]              torque: check the pan; K.; 40 Nm\n"
                                       "  [open]              waste: book it (it has changed since)\n"
                                       "  The job may not be closed before each is done or signed over.\n"));
}

}  // namespace
}  // namespace sumplog
