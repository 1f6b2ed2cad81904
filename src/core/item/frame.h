#pragma once
#include <algorithm>
#include <array>
#include <bit>
#include <compare>
#include <cstdint>
#include <functional>
#include <initializer_list>
#include <span>
#include <string>
#include <string_view>

#include "core/item/time.h"

namespace sumplog {

/// Name of a CAN bus as the system knows its interface: 1…15 characters, no space.
/// Longer names of foreign captures are cut to 15 characters.
class BusName {
 public:
  static constexpr std::size_t kMaxLength = 15;  // IFNAMSIZ - 1 of linux/if.h
  constexpr BusName() = default;
  constexpr explicit BusName(std::string_view text) {
    const std::size_t n = std::min(text.size(), kMaxLength);
    std::copy_n(text.data(), n, text_.begin());
    length_ = static_cast<std::uint8_t>(n);
  }
  [[nodiscard]] constexpr std::string_view text() const { return {text_.data(), length_}; }
  [[nodiscard]] constexpr bool empty() const { return length_ == 0; }
  friend constexpr bool operator==(const BusName& a, const BusName& b) { return a.words() == b.words(); }
  friend constexpr std::strong_ordering operator<=>(const BusName& a, const BusName& b) {
    if (a == b) return std::strong_ordering::equal;  // nearly always: most jobs know one bus
    return a.text_ != b.text_ ? a.text_ <=> b.text_ : a.length_ <=> b.length_;
  }

 private:
  [[nodiscard]] constexpr std::array<std::uint64_t, 2> words() const {
    return std::bit_cast<std::array<std::uint64_t, 2>>(*this);
  }

  std::array<char, kMaxLength> text_{};
  std::uint8_t length_ = 0;
};

/// CAN identifier, 11 or 29 bit. 7E8 standard and 7E8 extended are different identifiers.
struct CanId {
  std::uint32_t value = 0;  ///< 0…7FF, or 0…1FFFFFFF when extended; for an error frame the error class bits
  bool extended = false;
  friend constexpr auto operator<=>(const CanId&, const CanId&) = default;
};
[[nodiscard]] constexpr CanId standard_id(std::uint32_t value) {
  return {value, false};
}
[[nodiscard]] constexpr CanId extended_id(std::uint32_t value) {
  return {value, true};
}

enum class FrameKind : std::uint8_t { data, remote, error };

/// One frame as seen on a bus: CAN 2.0 A/B or CAN FD.
struct CanFrame {
  TimePoint at{};
  BusName bus{};
  CanId id{};
  FrameKind kind = FrameKind::data;
  bool fd = false;               ///< CAN FD format; then kind is data and length up to 64
  bool bit_rate_switch = false;  ///< FD only
  bool error_state = false;      ///< FD only: transmitter was error passive (ESI)
  std::uint8_t length = 0;       ///< bytes used of `bytes`; for a remote frame the requested length
  std::array<std::uint8_t, 64> bytes{};

  [[nodiscard]] std::span<const std::uint8_t> data() const {
    return {bytes.data(), kind == FrameKind::remote ? std::size_t{0} : length};
  }
  /// Sets bytes and length. `source` holds at most 64 bytes; more are cut.
  void set_data(std::span<const std::uint8_t> source) {
    length = static_cast<std::uint8_t>(std::min<std::size_t>(source.size(), bytes.size()));
    std::copy_n(source.begin(), length, bytes.begin());
  }
  friend bool operator==(const CanFrame& a, const CanFrame& b) {
    return a.at == b.at && a.bus == b.bus && a.id == b.id && a.kind == b.kind && a.fd == b.fd &&
           a.bit_rate_switch == b.bit_rate_switch && a.error_state == b.error_state && a.length == b.length &&
           std::equal(a.data().begin(), a.data().end(), b.data().begin(), b.data().end());
  }
};

/// Classic data frame, for tests and for the simulated vehicle.
[[nodiscard]] inline CanFrame data_frame(TimePoint at, BusName bus, CanId id,
                                         std::span<const std::uint8_t> bytes) {
  CanFrame frame;
  frame.at = at;
  frame.bus = bus;
  frame.id = id;
  frame.set_data(bytes);
  return frame;
}

}  // namespace sumplog

template <>
struct std::hash<sumplog::CanId> {
  std::size_t operator()(const sumplog::CanId& id) const noexcept {
    return (static_cast<std::size_t>(id.value) << 1 | (id.extended ? 1U : 0U)) * 0x9E3779B97F4A7C15ULL >> 7;
  }
};
template <>
struct std::hash<sumplog::BusName> {
  std::size_t operator()(const sumplog::BusName& bus) const noexcept {
    return std::hash<std::string_view>{}(bus.text());
  }
};
