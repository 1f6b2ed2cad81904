#include "app/recording.h"

#include <gmock/gmock.h>

#include <fstream>

#include "app/program_run.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

// A bus with the readings of a car and, between and behind them, identifiers that nobody names.
std::string log_of_a_whole_bus() {
  std::ifstream capture(std::string(SUMPLOG_SOURCE) + "/captures/demo-9/cold-start-to-window/capture.log");
  std::string text;
  for (std::string line; std::getline(capture, line);) {
    text += line + '\n';
    if (line.starts_with('(')) text += line.substr(0, line.find(')') + 1) + " can0 123#0102\n";
  }
  return text;
}

struct Read {
  std::size_t items = 0;
  std::string journal;
  TimePoint end{};
};

Read read_all(const fs::path& file, Result<const Item*> (Recording::*next)()) {
  ProgramSettings settings;
  settings.set("decoder", "demo-9");
  auto recording = Recording::open(file, settings);
  EXPECT_TRUE(recording) << recording.error().text();
  Read read;
  Output out;
  while (const Item* item = ((*recording).*next)().value()) {
    ++read.items;
    if (const auto* end = std::get_if<End>(item)) read.end = end->at;
    recording->flow().on_item(*item, out);
  }
  for (const Event& event : out.events) read.journal += journal_line(event) + '\n';
  return read;
}

TEST(Recording, WhatCountsIsLessAndGivesTheSameJournal) {
  const ScratchFolder scratch;
  const std::string last = "(1900000000.250000) can0 123#00\n";
  const std::string text = log_of_a_whole_bus();
  std::ofstream(scratch / "bus.log") << text << last;
  const Read all = read_all(scratch / "bus.log", &Recording::next);
  const Read counts = read_all(scratch / "bus.log", &Recording::next_that_counts);
  EXPECT_GT(all.items, 1000U);
  EXPECT_LE(counts.items, all.items / 2 + 100);
  EXPECT_TRUE(counts.journal == all.journal);
  EXPECT_EQ(counts.end, at_micros(1900000000250000))
      << "the end is where the last frame was, whoever looks at it";
  EXPECT_EQ(all.end, counts.end);
}

}  // namespace
}  // namespace sumplog
