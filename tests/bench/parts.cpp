// What the parts of a replay take, each by itself (Google Benchmark). The whole way beside other programs: whole_way.py.
#include <benchmark/benchmark.h>

#include <string>
#include <variant>

#include "core/capture/candump_text.h"
#include "core/capture/line_buffer.h"
#include "core/capture/reader.h"
#include "core/capture/usual_line.h"
#include "core/journal/event.h"
#include "core/journal/flow.h"

namespace sumplog {
namespace {

const std::string kLine = "(1700000000.123456) can0 7E9#04621A0552000000";

CanFrame frame(std::uint32_t id, std::initializer_list<std::uint8_t> bytes, std::int64_t us) {
  return data_frame(at_micros(1700000000000000 + us), BusName("can0"), standard_id(id), bytes);
}

void usual_line(benchmark::State& state) {
  const std::string text = kLine + '\n' + kLine;
  CanFrame read;
  UsualLineBefore before;
  for (auto _ : state) benchmark::DoNotOptimize(read_usual_line(text, before, read));
}
BENCHMARK(usual_line);

void plain_line(benchmark::State& state) {
  for (auto _ : state) benchmark::DoNotOptimize(parse_candump_line(kLine));
}
BENCHMARK(plain_line);

void written_line(benchmark::State& state) {
  const CanFrame written = *parse_candump_line(kLine);
  for (auto _ : state) benchmark::DoNotOptimize(candump_line(written));
}
BENCHMARK(written_line);

/// The reader alone, lines in blocks of 64 KiB; the time is that of one frame.
void candump_reader(benchmark::State& state) {
  std::string block;
  std::int64_t lines = 0;
  for (; block.size() < 65536 - kLine.size(); ++lines) block += kLine + '\n';
  const auto reader = make_reader(CaptureForm::candump);
  std::int64_t frames = 0;
  for (auto _ : state) {
    reader->on_bytes(block);
    while (Item* const item = reader->next()) benchmark::DoNotOptimize(item);
    frames += lines;
  }
  state.SetItemsProcessed(frames);
}
BENCHMARK(candump_reader);

/// A job that knows its vehicle: the first frame configures it.
class Running {
 public:
  Running() { give(frame(0x123, {0}, 0)); }
  void give(const CanFrame& one) {
    out_.clear();
    flow_.on_item(one, out_);
    benchmark::DoNotOptimize(out_);
  }

 private:
  Flow flow_;
  Output out_;
};

void broadcast_that_means_nothing(benchmark::State& state) {
  Running job;
  std::int64_t us = 0;
  for (auto _ : state) job.give(frame(0x123, {1, 2, 3, 4, 5, 6, 7, 8}, us += 250));
}
BENCHMARK(broadcast_that_means_nothing);

/// Request, first frame, flow control and 28 consecutive frames; the time is that of one frame.
void long_answer(benchmark::State& state) {
  Running job;
  std::int64_t us = 0;
  std::int64_t frames = 0;
  for (auto _ : state) {
    job.give(frame(0x7E2, {3, 0x22, 0xF4, 0, 0, 0, 0, 0}, us += 250));
    job.give(frame(0x7EA, {0x10, 200, 0x62, 0xF4, 0, 0, 0, 0}, us += 250));
    job.give(frame(0x7E2, {0x30, 0, 0, 0, 0, 0, 0, 0}, us += 250));
    for (std::uint8_t number = 1; number <= 28; ++number)
      job.give(
          frame(0x7EA, {static_cast<std::uint8_t>(0x20 | (number & 15)), 0, 0, 0, 0, 0, 0, 0}, us += 250));
    frames += 31;
  }
  state.SetItemsProcessed(frames);
}
BENCHMARK(long_answer);

void journal_line_of_a_reading(benchmark::State& state) {
  ReadingEvent reading;
  reading.at = at_micros(1700000000123456);
  reading.bus = BusName("can0");
  reading.signal = "fluid_temperature";
  reading.value = 42;
  reading.unit = "degC";
  reading.ecu = "7E9";
  const Event event = reading;
  for (auto _ : state) benchmark::DoNotOptimize(journal_line(event));
}
BENCHMARK(journal_line_of_a_reading);

}  // namespace
}  // namespace sumplog

BENCHMARK_MAIN();
