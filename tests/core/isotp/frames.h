#pragma once
#include <cstdint>
#include <initializer_list>
#include <numeric>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"

// Words for transport tests: bytes as hex text, frames as identifier and bytes.
namespace sumplog::isotp_words {

inline const BusName kBus{"can0"};
inline constexpr TimePoint kStart = at_micros(1'700'000'000'000'000);

inline std::vector<std::uint8_t> bytes(std::string_view hex) {
  std::vector<std::uint8_t> out;
  unsigned value = 0;
  int digits = 0;
  for (const char c : hex) {
    if (c == ' ') continue;
    const int digit = c <= '9' ? c - '0' : c - 'A' + 10;
    value = value << 4 | static_cast<unsigned>(digit);
    if (++digits % 2 == 0) {
      out.push_back(static_cast<std::uint8_t>(value & 0xFFU));
      value = 0;
    }
  }
  return out;
}

/// `head` followed by `fill` until it is `length` bytes long.
inline std::vector<std::uint8_t> filled(std::string_view head, std::size_t length, std::uint8_t fill = 0x55) {
  std::vector<std::uint8_t> out = bytes(head);
  out.resize(length, fill);
  return out;
}

/// A payload whose bytes tell their place: no shifted or doubled part of it equals the original.
inline std::vector<std::uint8_t> numbered(std::size_t length) {
  std::vector<std::uint8_t> out(length);
  for (std::size_t i = 0; i < length; ++i) out[i] = static_cast<std::uint8_t>((i * 31 + i / 251) & 0xFFU);
  return out;
}

inline CanFrame frame(TimePoint at, CanId id, const std::vector<std::uint8_t>& data) {
  CanFrame one = data_frame(at, kBus, id, data);
  one.fd = data.size() > 8;
  return one;
}

inline std::vector<std::uint8_t> data_of(const CanFrame& frame) {
  return {frame.data().begin(), frame.data().end()};
}

}  // namespace sumplog::isotp_words
