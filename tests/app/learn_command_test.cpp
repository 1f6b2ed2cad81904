#include <gmock/gmock.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/program_run.h"

namespace sumplog {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;

const std::string kTruck = std::string(SUMPLOG_SOURCE) + "/captures/j1939-transmission/warm-up/";
const std::string kCar = std::string(SUMPLOG_SOURCE) + "/captures/demo-9/cold-start-to-window/capture.log";

/// The decoder of heavy vehicles without SPN 177.
fs::path withheld(const ScratchFolder& scratch) {
  std::string text = text_of_file(std::string(SUMPLOG_SOURCE) + "/decoders/j1939-transmission/signals.toml");
  const std::size_t begin = text.find("# Byte 5 and 6 of TRF1");
  text.erase(begin, text.find("# Byte 4 and 5 of EEC1") - begin);
  const std::string id = "id = \"j1939-transmission\"";
  text.replace(text.find(id), id.size(), "id = \"truck\"");
  fs::create_directories(scratch / "truck");
  std::ofstream(scratch / "truck" / "signals.toml") << text;
  return scratch / "truck";
}

std::vector<json> lines_of(const Ran& ran, const std::string& kind) {
  std::vector<json> lines;
  std::istringstream out(ran.out);
  for (std::string line; std::getline(out, line);)
    if (json one = json::parse(line); one["kind"] == kind) lines.push_back(std::move(one));
  return lines;
}

// SAE J1939-71 as in canboat: SPN 177, bytes 5 and 6 of TRF1 (PGN 65272), 1/32 K a bit from -273.
TEST(LearnCommand, FindsSpn177WhereItsDescriptionIsWithheld) {
  const ScratchFolder scratch;
  const std::string call = "learn " + kTruck + "capture.log --decoder " + withheld(scratch).string() +
                           " --seen 29.5@+5 --seen 41@+200 --seen 53.4@+410 --json";
  const Ran ran = run_program(call);
  const auto signals = lines_of(ran, "signal");
  ASSERT_FALSE(signals.empty()) << ran.err;
  EXPECT_EQ(signals.front()["source"], "frame 18FEF803");
  EXPECT_EQ(signals.front()["start_bit"], 32);
  EXPECT_EQ(signals.front()["bit_length"], 16);
  EXPECT_EQ(signals.front()["byte_order"], "little");
  EXPECT_DOUBLE_EQ(signals.front()["scale"].get<double>(), 0.03125);
  EXPECT_DOUBLE_EQ(signals.front()["offset"].get<double>(), -273);
  EXPECT_GE(signals.front()["probability"].get<double>(), 0.9);
}

TEST(LearnCommand, WritesADecoderThatReplaysTheReadingsOfTheStandardsOne) {
  const ScratchFolder scratch;
  const std::string found = (scratch / "bay-3").string();
  const Ran ran = run_program("learn " + kTruck + "capture.log --decoder " + withheld(scratch).string() +
                              " --seen 29.5@+5 --seen 41@+200 --seen 53.4@+410 --signal 1 --write " + found);
  ASSERT_EQ(ran.status, 0) << ran.err;
  const Ran checked = run_program("decoders check " + found);
  EXPECT_EQ(checked.status, 0) << checked.err;
  const auto fluid = [](const Ran& replayed) {
    std::vector<std::pair<double, double>> values;
    for (const json& line : lines_of(replayed, "reading"))
      if (line["signal"] == "fluid_temperature" && line.contains("value"))
        values.emplace_back(line["t"], line["value"]);
    return values;
  };
  const auto learned = fluid(run_program("replay " + kTruck + "capture.log --json --decoder " + found));
  const auto standard =
      fluid(run_program("replay " + kTruck + "capture.log --json --decoder j1939-transmission"));
  ASSERT_GT(learned.size(), 400U);
  EXPECT_EQ(learned, standard);
  const Ran again = run_program("learn " + kTruck + "capture.log --signal 1 --write " + found);
  EXPECT_EQ(again.status, 2);
  EXPECT_THAT(again.err, HasSubstr("exists already; give another name, or remove it"));
}

TEST(LearnCommand, WhatIsNotSureIsNotWrittenUnlessItIsChosen) {
  const ScratchFolder scratch;
  const Ran ran = run_program("learn " + kCar + " --write " + (scratch / "x").string());
  EXPECT_EQ(ran.status, 1);
  EXPECT_THAT(ran.err, HasSubstr("no signal is sure enough to be written; take a further reading as advised, "
                                 "or choose one with --signal N"));
  EXPECT_FALSE(fs::exists(scratch / "x"));
  const Ran none = run_program("learn " + kCar + " --signal 99 --write " + (scratch / "x").string());
  EXPECT_THAT(none.err, HasSubstr("--signal 99: there are "));
}

TEST(LearnCommand, SaysWhatIsWrongWithTheCall) {
  EXPECT_THAT(run_program("learn").err,
              HasSubstr("nothing to learn from; name a recording, or --interface and --ask"));
  EXPECT_THAT(run_program("learn nowhere.log").err, HasSubstr("nowhere.log"));
  EXPECT_THAT(run_program("learn " + kCar + " --ask 7E1:00-FF").err,
              HasSubstr("a recording and a car at once"));
  EXPECT_THAT(run_program("learn " + kCar + " --seen 36").err,
              HasSubstr("--seen 36: no time; write 36.0@10:02:10±1"));
  EXPECT_THAT(run_program("learn " + kCar + " --seen 36@+90000").err,
              HasSubstr("the time is no number of seconds"));
  EXPECT_THAT(run_program("learn " + kCar + " --seen 36@+80000").err,
              HasSubstr("lies outside of the recording and is not used"));
}

}  // namespace
}  // namespace sumplog
