#include "fuzz/reading_check.h"

#include <algorithm>
#include <numeric>

#include "core/capture/writer.h"
#include "core/item/item_text.h"

namespace sumplog::fuzz {
namespace {

std::uint32_t sum_of(Bytes bytes) {
  return std::accumulate(bytes.begin(), bytes.end(), 1U,
                         [](std::uint32_t sum, std::uint8_t byte) { return sum * 31 + byte; });
}

void require_same_reading(const Reading& one, const Reading& other) {
  require(one.texts.size() == other.texts.size(), "cut otherwise the bytes give another number of items");
  for (std::size_t i = 0; i < one.texts.size(); ++i)
    require_same(one.texts[i], other.texts[i], "cut otherwise the bytes give another item");
  require(one.ending.kind == other.ending.kind && one.ending.line == other.ending.line &&
              one.ending.bytes == other.ending.bytes && one.ending.bad_records == other.ending.bad_records,
          "cut otherwise the bytes give another ending");
  require_same(one.ending.why, other.ending.why, "cut otherwise the bytes give another ending");
}

/// Every form can hold its bus.
bool has_a_plain_bus(const CanFrame& frame) {
  const auto plain = [](char c) { return c > ' ' && c <= '~'; };
  const std::string_view bus = frame.bus.text();
  return !bus.empty() && std::all_of(bus.begin(), bus.end(), plain);
}

/// A frame as a form can hold it.
CanFrame as_written(CanFrame frame, WrittenForm form) {
  if (form == WrittenForm::pcapng && frame.at < TimePoint{}) frame.at = TimePoint{};
  if (form == WrittenForm::asc && frame.kind == FrameKind::error) {
    frame.id = {};
    frame.length = 0;
  }
  return frame;
}

}  // namespace

std::string item_text(const Item& item) {
  if (const auto* bad = std::get_if<Unreadable>(&item))
    return std::to_string(micros(bad->at)) + " unreadable " + std::to_string(bad->line) + ": " + bad->why;
  std::string text;
  for (const std::string& line : item_lines(item)) text += line + '\n';
  return text;
}

Reading read_capture(CaptureForm form, std::string_view bytes, std::uint32_t seed) {
  const auto reader = make_reader(form);
  Reading reading;
  const auto drain = [&] {
    while (auto item = reader->next()) {
      reading.texts.push_back(item_text(*item));
      reading.items.push_back(std::move(*item));
    }
  };
  constexpr std::uint32_t kLongestPiece = 97;
  while (!bytes.empty()) {
    std::size_t n = bytes.size();
    if (seed != 0) {
      seed = seed * 1664525 + 1013904223;  // Numerical Recipes, a generator of 32 bits
      n = std::min<std::size_t>(n, 1 + (seed >> 16) % kLongestPiece);
    }
    reader->on_bytes(bytes.substr(0, n));
    drain();
    bytes.remove_prefix(n);
  }
  reader->on_end();
  drain();
  reading.ending = reader->ending();
  return reading;
}

Reading check_reader(CaptureForm form, Bytes bytes) {
  const std::uint32_t sum = sum_of(bytes);
  const std::string_view text = text_of(bytes);
  Reading whole = read_capture(form, text, 0);
  require_same_reading(whole, read_capture(form, text, sum | 1));

  const Reading part = read_capture(form, text.substr(0, text.empty() ? 0 : sum % text.size()), 0);
  require(part.texts.size() <= whole.texts.size(), "the beginning gives more items than the whole");
  for (std::size_t i = 0; i < part.texts.size(); ++i) {
    // Cut between a fragment and the `torn` that explains it, a job file ends in a line that is only then no item.
    const bool unexplained = form == CaptureForm::job_file && i + 1 == part.texts.size() &&
                             whole.texts[i].find("\"item\":\"torn\"") != std::string::npos;
    if (!unexplained) require_same(part.texts[i], whole.texts[i], "the beginning gives another item");
  }

  const auto bad =
      static_cast<std::uint64_t>(std::count_if(whole.items.begin(), whole.items.end(), [](const Item& i) {
        return std::holds_alternative<Unreadable>(i);
      }));
  require(bad == whole.ending.bad_records, "an unreadable record is not counted");
  require((whole.ending.kind == EndKind::corrupt) == (bad > 0), "the ending hides an unreadable record");
  return whole;
}

void check_writers(const Reading& reading) {
  for (const auto& [written, read] : {std::pair{WrittenForm::candump, CaptureForm::candump},
                                      {WrittenForm::pcapng, CaptureForm::pcapng},
                                      {WrittenForm::asc, CaptureForm::asc}}) {
    const auto writer = make_writer(written);
    std::string bytes;
    std::vector<std::string> expected;
    for (const Item& item : reading.items) {
      const auto* frame = std::get_if<CanFrame>(&item);
      if (frame == nullptr || !has_a_plain_bus(*frame)) continue;
      const std::uint64_t before = writer->frames_left_out();
      writer->on_item(item, bytes);
      if (writer->frames_left_out() == before) expected.push_back(item_text(as_written(*frame, written)));
    }
    writer->on_end(bytes);
    const Reading back = read_capture(read, bytes, 0);
    require(back.texts.size() == expected.size(), "written and read back there are not as many frames");
    for (std::size_t i = 0; i < expected.size(); ++i) {
      const auto* frame = std::get_if<CanFrame>(&back.items[i]);
      require_same(expected[i], frame != nullptr ? item_text(as_written(*frame, written)) : back.texts[i],
                   "written and read back a frame differs");
    }
  }
}

}  // namespace sumplog::fuzz
