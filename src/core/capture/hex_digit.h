#pragma once
#include <array>
#include <cstddef>
#include <cstdint>

namespace sumplog {

/// What hex_value() gives for a character that is no hex digit: a bit that no byte has, so that several can be joined and looked
/// at once.
inline constexpr std::uint32_t kNoHexDigit = 0x100;

/// 0…15 for a hex digit, small or large letter.
[[nodiscard]] inline std::uint32_t hex_value(char c) {
  static constexpr std::array<std::uint16_t, 256> kValues = [] {
    std::array<std::uint16_t, 256> table{};
    table.fill(kNoHexDigit);
    for (std::uint16_t i = 0; i < 10; ++i) table[static_cast<std::size_t>('0') + i] = i;
    for (std::uint16_t i = 0; i < 6; ++i) {
      table[static_cast<std::size_t>('A') + i] = static_cast<std::uint16_t>(10 + i);
      table[static_cast<std::size_t>('a') + i] = static_cast<std::uint16_t>(10 + i);
    }
    return table;
  }();
  return kValues[static_cast<unsigned char>(c)];
}

}  // namespace sumplog
