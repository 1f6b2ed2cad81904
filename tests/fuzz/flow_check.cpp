#include "fuzz/flow_check.h"

#include <chrono>
#include <fstream>
#include <iterator>
#include <optional>

#include "core/journal/event_reader.h"
#include "fuzz/target.h"

namespace sumplog::fuzz {
namespace {

constexpr Duration kFresh = std::chrono::seconds{3};  // docs/journal.md, `fresh_s`

TimePoint time_of_event(const Event& event) {
  return std::visit([](const auto& one) { return one.at; }, event);
}

}  // namespace

std::string source_text(const std::string& path) {
  std::ifstream file(std::string(SUMPLOG_SOURCE) + "/" + path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

void JournalWatch::on_output(const Output& out) {
  for (const Event& event : out.events) {
    const std::string line = journal_line(event);
    const auto back = event_of(line);
    if (!back) require(false, "a journal line cannot be read back: " + line);
    require_same(line, journal_line(*back), "a journal line changes when it is read");
    if (time_of_event(event) < last_) require(false, "time runs backwards: " + line);
    last_ = time_of_event(event);
    if (const auto* reading = std::get_if<ReadingEvent>(&event)) on_reading(*reading);
    if (const auto* window = std::get_if<WindowEvent>(&event)) on_window(*window);
    lines_.push_back(line);
  }
  for (const Exchange& exchange : out.exchanges)
    require(exchange.asked_at <= exchange.ended_at, "an answer before its question");
  for (const Message& message : out.messages)
    require(message.first_at <= message.at, "a message ends before it begins");
}

void JournalWatch::on_reading(const ReadingEvent& reading) {
  if (!reading.value) return;
  if (reading.signal == "fluid_temperature") fluid_at_ = reading.at;
  if (decoders_.empty() || reading.quality != Quality::measured) return;
  for (const Decoder& decoder : decoders_)
    for (const Signal& signal : decoder.signals)
      if (signal.name == reading.signal && *reading.value >= signal.valid_low &&
          *reading.value <= signal.valid_high)
        return;
  require(false, "a reading outside of what the decoders allow: " + journal_line(reading));
}

void JournalWatch::on_window(const WindowEvent& window) {
  if (decoders_.empty() || window.to != WindowState::inside) return;
  if (!fluid_at_ || window.at - *fluid_at_ > kFresh)
    require(false, "inside without a fresh reading: " + journal_line(window));
}

std::vector<std::string> journal_of(const std::vector<Item>& items, const std::vector<Decoder>& decoders) {
  Flow flow;
  Output out;
  JournalWatch watch(decoders);
  for (const Item& item : items) {
    const auto* const frame = std::get_if<CanFrame>(&item);
    if (frame != nullptr && flow.pass_by().covers(*frame)) {
      flow.on_passed(frame->at);
      continue;
    }
    out.clear();
    flow.on_item(item, out);
    watch.on_output(out);
  }
  return watch.lines();
}

std::vector<std::string> live_journal_of(const std::vector<Item>& items,
                                         const std::vector<Decoder>& decoders) {
  Flow flow;
  Output out;
  JournalWatch watch(decoders);
  const auto feed = [&](const Item& item) {
    out.clear();
    flow.on_item(item, out);
    watch.on_output(out);
  };
  for (const Item& item : items) {
    while (const auto due = flow.deadline()) {
      if (*due > time_of(item)) break;
      feed(Advance{*due});
      require(flow.deadline() != due, "a deadline stands still");
    }
    feed(item);
  }
  return watch.lines();
}

void require_same_journal(const std::vector<std::string>& one, const std::vector<std::string>& other,
                          std::string_view what) {
  for (std::size_t i = 0; i < one.size() && i < other.size(); ++i) require_same(one[i], other[i], what);
  require(one.size() == other.size(), what);
}

}  // namespace sumplog::fuzz
