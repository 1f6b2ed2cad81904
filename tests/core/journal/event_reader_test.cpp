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
          R"({"t":1.000000,"kind":"sums","of":"level","plug_in_c":50.00,"edge_c":45.00,"fill_l":10.00,"ml_per_c":7.6,"short_ml":[34.1,38.0,39.2],"assumes":["a"]})",
          R"({"t":1.000000,"kind":"codes","bus":"can0","scan":"before","ecu":"7E8","service":"02","code":"P0711","freeze_frame":[{"signal":"a","value":1.50,"unit":"V"},{"signal":"b","why":"none"},{"signal":"c","value":7}]})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E8","service":"01","warning_lamp":true,"stored":3,"monitors":[{"name":"catalyst","complete":false}],"lamps":["amber"]})",
          R"({"t":1.000000,"kind":"codes","ecu":"7E8","service":"03","codes":[]})",
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
}

}  // namespace
}  // namespace sumplog
