#pragma once
#include <algorithm>
#include <random>
#include <string>
#include <string_view>
#include <vector>

#include "core/capture/candump_text.h"
#include "core/capture/reader.h"

namespace sumplog::capture_test {

/// One item of a reader as text, so that whole readings can be compared and shown.
inline std::string text_of(const Item& item) {
  if (const auto* frame = std::get_if<CanFrame>(&item)) return candump_line(*frame);
  if (const auto* given = std::get_if<GivenReading>(&item))
    return std::to_string(micros(given->at)) + ' ' + given->signal + '=' + given->value;
  if (const auto* drops = std::get_if<ReceiveDrops>(&item)) {
    return std::to_string(micros(drops->at)) + ' ' + std::string(drops->bus.text()) + " drops " +
           std::to_string(drops->frames);
  }
  if (const auto* bad = std::get_if<Unreadable>(&item)) {
    return std::to_string(micros(bad->at)) + " unreadable " + std::to_string(bad->line) + ": " + bad->why;
  }
  return "another item";
}

struct Reading {
  std::vector<std::string> items;
  Ending ending;
  friend bool operator==(const Reading& a, const Reading& b) {
    return a.items == b.items && a.ending.kind == b.ending.kind && a.ending.line == b.ending.line &&
           a.ending.bytes == b.ending.bytes && a.ending.why == b.ending.why &&
           a.ending.bad_records == b.ending.bad_records;
  }
  [[nodiscard]] std::vector<std::string> unreadable() const {
    std::vector<std::string> found;
    std::copy_if(items.begin(), items.end(), std::back_inserter(found),
                 [](const std::string& item) { return item.find(" unreadable ") != std::string::npos; });
    return found;
  }
};

/// Reads bytes through make_reader(), `piece()` bytes at a time.
template <class Piece>
Reading read_in_pieces(CaptureForm form, std::string_view bytes, Piece piece) {
  const auto reader = make_reader(form);
  Reading reading;
  const auto drain = [&] {
    while (const auto item = reader->next()) reading.items.push_back(text_of(*item));
  };
  while (!bytes.empty()) {
    const std::size_t n = std::min<std::size_t>(piece(), bytes.size());
    reader->on_bytes(bytes.substr(0, n));
    drain();
    bytes.remove_prefix(n);
  }
  reader->on_end();
  drain();
  reading.ending = reader->ending();
  return reading;
}

inline Reading read_whole(CaptureForm form, std::string_view bytes) {
  return read_in_pieces(form, bytes, [] { return std::string_view::npos; });
}

/// Any frame that a bus can carry, at a time after 1970.
inline CanFrame any_frame(std::mt19937& random) {
  const auto below = [&](std::uint32_t n) { return static_cast<std::uint32_t>(random() % n); };
  CanFrame frame;
  frame.at = at_micros(static_cast<std::int64_t>((std::uint64_t{random()} << 32 | random()) >> 13));
  frame.bus = BusName("can" + std::to_string(below(12)));
  frame.id = below(2) == 0 ? standard_id(below(0x800)) : extended_id(below(0x20000000));
  switch (below(4)) {
    case 0: {
      constexpr std::array<std::uint8_t, 16> kLengths{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};
      frame.fd = true;
      frame.bit_rate_switch = below(2) == 0;
      frame.error_state = below(2) == 0;
      frame.length = kLengths[below(16)];
      break;
    }
    case 1:
      frame.kind = FrameKind::remote;
      frame.length = static_cast<std::uint8_t>(below(9));
      break;
    case 2:
      frame.kind = FrameKind::error;
      frame.id = standard_id(below(0x20000000));
      frame.length = 8;
      break;
    default: frame.length = static_cast<std::uint8_t>(below(9));
  }
  for (std::size_t i = 0; i < frame.data().size(); ++i)
    frame.bytes[i] = static_cast<std::uint8_t>(below(256));
  return frame;
}

}  // namespace sumplog::capture_test
