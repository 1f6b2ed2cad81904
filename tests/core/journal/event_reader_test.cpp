#include "core/journal/event_reader.h"

#include <gtest/gtest.h>

#include <fstream>
#include <set>

#include "core/journal/capture_run.h"

namespace sumplog {
namespace {

std::string again(const std::string& line) {
  const auto event = event_of(line);
  return event ? journal_line(*event) : "no event";
}

class JournalOfACapture : public testing::TestWithParam<fs::path> {};

TEST_P(JournalOfACapture, IsReadBackLineByLine) {
  for (const char* const name : {"capture.events", "capture.readings"}) {
    std::ifstream file(GetParam() / name);
    std::size_t number = 0;
    for (std::string line; std::getline(file, line);)
      ASSERT_EQ(again(line), line) << GetParam() / name << ":" << ++number;
  }
}

INSTANTIATE_TEST_SUITE_P(All, JournalOfACapture, testing::ValuesIn(capture_folders()), capture_name);

// What no capture has: one line of each of these kinds, with all its fields.
TEST(EventReader, ReadsWhatIsRare) {
  for (
      const std::string line : {
          R"({"t":1700000000.123456,"kind":"forecast","target_c":30.00,"coolant_target_c":50.00,"ready_in_s":[600.0,1200.0,null],"samples":4,"assumes":["still air"]})",
          R"({"t":1700000000.000001,"kind":"clock","step_s":-3600.250000})",
          R"({"t":0.000000,"kind":"thermal","window":"unknown","why":"no answer","announce_in_s":null,"flags":["fast"]})",
          R"({"t":0.000000,"kind":"thermal","temp_c":41.00,"window":"inside","quality":"by hand","stay_s":[60.0,90.0,null]})",
          R"({"t":1.000000,"kind":"sums","of":"level","plug_in_c":50.00,"edge_c":45.00,"fill_l":10.00,"ml_per_c":7.6,"short_ml":[34.1,38.0,39.2],"assumes":["a"]})",
          R"({"t":1.000000,"kind":"codes","bus":"can0","scan":"before","ecu":"7E8","service":"02","code":"P0711","freeze_frame":[{"signal":"a","value":1.50,"unit":"V"},{"signal":"b","why":"none"},{"signal":"c","value":7}]})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E8","service":"01","warning_lamp":true,"stored":3,"monitors":[{"name":"catalyst","complete":false}],"lamps":["amber"]})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E8","service":"03","codes":[]})",
          R"({"t":1.000000,"kind":"codes","bus":"can0","scan":"after","ecu":"7E9","service":"19 02","codes":[{"code":"P0711-1F","status":["confirmed"],"raw":"07111F","text":"fluid temperature sensor","class":"decide first","why":"it may be invented"},{"code":"P0741","raw":"0741"}]})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E9","service":"19 06","code":"P0711","record":"05171079"})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E9","service":"03","refused":"not readable without another session"})",
          R"({"t":1.000000,"kind":"codes","bus":"can0","scan":"before","asked":["03 of 7E0"],"answered":["7E8"],"silent":["7E9"],"not_asked":["units behind gateways"],"complete":false,"why":["7E9 did not answer"],"supply_low_v":11.40})",
          R"({"t":1.000000,"kind":"codes","scan":"after","asked":[],"answered":[],"silent":[],"not_asked":[],"complete":true})",
          R"({"t":1.000000,"kind":"compared","codes":[{"ecu":"7E8","code":"P0711","change":"same","before":["stored"],"after":["stored"]},{"ecu":"7E8","code":"P0718","change":"gone","before":["confirmed"]},{"ecu":"7E8","code":"P0730","change":"new","after":["test failed"]},{"ecu":"7E8","code":"P0741","change":"status changed","before":["pending"],"after":["confirmed"]},{"ecu":"7EA","change":"unit silent now"},{"ecu":"7EB","change":"unit silent before"}],"complete":true,"cleared":["7E8: a"]})",
          R"({"t":1.000000,"kind":"verdict","conditions":"not kept","thermometer":"by hand","why":["a"],"out_t":0.500000,"in_t":0.750000,"inside_for_s":0.2,"level_seen":{"flow":"drip","ml_in_10_s":2.5,"by":"K.","criterion":"drip","reached":true}})",
          R"({"t":1.000000,"kind":"verdict","conditions":"kept","thermometer":"measured","out_t":0.500000,"in_t":0.750000,"inside_for_s":0.2,"level_seen":{"flow":"drip"}})",
          R"({"t":1.000000,"kind":"entry","id":"e-1","name":"fluid_out","fields":{"litres":4.5,"by":"Ä","ago_s":40},"happened_t":0.500000,"time":"by hand"})",
          R"({"t":1.000000,"kind":"stage","stage":"sample","change":"skipped","why":"no"})",
          R"({"t":1.000000,"kind":"loss","bus":"can0","ecu":"7E9","why":"sequence","frames":18446744073709})",
      })
    EXPECT_EQ(again(line), line);
}

// What the documents quote is what the program writes: a renamed key or another number of decimals shows here.
TEST(EventReader, EveryLineThatADocumentQuotesIsOne) {
  std::size_t quoted = 0;
  for (const char* const page : {"journal.md", "web.md", "fault_codes.md"}) {
    std::ifstream file(fs::path(SUMPLOG_SOURCE) / "docs" / page);
    for (std::string line; std::getline(file, line);) {
      if (!line.starts_with("{\"t\":") || line.find("\"kind\":") == std::string::npos) continue;
      ++quoted;
      EXPECT_EQ(again(line), line) << page;
    }
  }
  EXPECT_GE(quoted, 7U);
}

TEST(EventReader, ABusWhoseNameIsNoTextIsReadBackUnderTheNameThatWasShown) {
  for (const std::string name :
       {"c\xE4n0", "\xFF\xFE\xFD\xFC\xFB\xFA\xF9\xF8\xF7\xF6\xF5\xF4\xF3\xF2", "c\xC3\xA4n0"}) {
    const std::string line = journal_line(LossEvent{TimePoint{}, BusName(name), "7E8", "why", 1});
    EXPECT_EQ(again(line), line);
  }
}

TEST(EventReader, WhatIsNoLineOfTheJournalIsNoEvent) {
  for (const char* const line : {"", "{", "[]", "7", "{}", R"({"kind":7})", R"({"t":1,"kind":"later"})",
                                 R"({"t":1,"kind":"sums","of":"money"})"})
    EXPECT_FALSE(event_of(line)) << line;
}

TEST(EventReader, AFieldOfAnotherTypeIsNotKnown) {
  const auto event =
      event_of(R"({"t":"x","kind":"thermal","temp_c":"y","window":3,"stay_s":[1,2],"flags":[1,"fast"]})");
  ASSERT_TRUE(event);
  const auto& thermal = std::get<ThermalEvent>(*event);
  EXPECT_FALSE(thermal.temp_c);
  EXPECT_FALSE(thermal.stay_s);
  EXPECT_EQ(thermal.window, WindowState::unknown);
  EXPECT_EQ(thermal.flags, std::vector<std::string>{"fast"});
  // A list that is none, and a moment that lies beyond every job.
  const auto odd =
      event_of(R"({"t":1e13,"kind":"thermal","stay_s":"soon","enter_in_s":[1,"x",3],"flags":"fast"})");
  ASSERT_TRUE(odd);
  EXPECT_EQ(std::get<ThermalEvent>(*odd).at, TimePoint{});
  EXPECT_FALSE(std::get<ThermalEvent>(*odd).stay_s);
  EXPECT_EQ(std::get<ThermalEvent>(*odd).enter_in_s, (Quantiles{1.0, std::nullopt, 3.0}));
  EXPECT_TRUE(std::get<ThermalEvent>(*odd).flags.empty());
  const auto loss = event_of(R"({"t":1,"kind":"loss","frames":-1})");
  ASSERT_TRUE(loss);
  EXPECT_EQ(std::get<LossEvent>(*loss).frames, 0U);
  const auto entry = event_of(R"({"t":1,"kind":"entry","fields":["litres"]})");
  ASSERT_TRUE(entry);
  EXPECT_EQ(std::get<EntryEvent>(*entry).fields, "{}");
  const auto bare = event_of(R"({"t":1,"kind":"entry","id":"e-1","name":"note"})");
  ASSERT_TRUE(bare);
  EXPECT_EQ(std::get<EntryEvent>(*bare).fields, "{}");
  const auto verdict = event_of(R"({"t":1,"kind":"verdict","conditions":"kept","level_seen":"drip"})");
  ASSERT_TRUE(verdict);
  EXPECT_TRUE(std::get<VerdictEvent>(*verdict).kept);
  EXPECT_FALSE(std::get<VerdictEvent>(*verdict).level_seen);
  const auto unseen = event_of(R"({"t":1,"kind":"verdict","conditions":"kept"})");
  ASSERT_TRUE(unseen);
  EXPECT_FALSE(std::get<VerdictEvent>(*unseen).level_seen);
  const auto sums = event_of(R"({"t":1,"kind":"sums","of":"level","short_ml":7})");
  ASSERT_TRUE(sums);
  EXPECT_EQ(std::get<LevelSumsEvent>(*sums).short_ml[1], 0);
  const auto codes =
      event_of(R"({"t":1,"kind":"codes","codes":[1,{"code":"P0711"}],"monitors":7,"warning_lamp":1})");
  ASSERT_TRUE(codes);
  ASSERT_EQ(std::get<CodesEvent>(*codes).codes->size(), 1U);
  EXPECT_FALSE(std::get<CodesEvent>(*codes).monitors->warning_lamp);
  EXPECT_TRUE(std::get<CodesEvent>(*codes).monitors->monitors.empty());
}

TEST(EventReader, TheDecimalsOfAValueAreThoseOfItsOwnNumber) {
  for (const auto& [line, decimals] :
       {std::pair{R"({"t":1,"kind":"reading","signal":"a","value":12.50})", 2},
        {R"({"t":1,"kind":"reading","signal":"a","value":12})", 0},
        {R"({"t":1,"kind":"reading","signal":"a"})", 0},
        {R"({"t":1,"kind":"reading","signal":"a","value" : 12.5})", 0}}) {  // not as the program writes it
    const auto event = event_of(line);
    ASSERT_TRUE(event) << line;
    EXPECT_EQ(std::get<ReadingEvent>(*event).decimals, decimals) << line;
  }
  const auto frozen = event_of(
      R"({"t":1,"kind":"codes","freeze_frame":[{"signal":"a","value" :1.5},{"signal":"b","value" :2.25}]})");
  ASSERT_TRUE(frozen);
  EXPECT_EQ(std::get<CodesEvent>(*frozen).frozen.at(1).decimals, 0);
}

}  // namespace
}  // namespace sumplog
