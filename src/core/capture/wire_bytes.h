#pragma once
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

namespace sumplog {

/// Of the numbers in a capture file; that of a signal is ByteOrder of a decoder.
enum class WireOrder : std::uint8_t { little, big };

/// Unsigned number of `size` bytes at an offset. The caller has checked that they are there.
[[nodiscard]] inline std::uint64_t wire_number(std::string_view bytes, std::size_t offset, std::size_t size,
                                               WireOrder order) {
  std::uint64_t value = 0;
  for (std::size_t i = 0; i < size; ++i) {
    const std::size_t from = order == WireOrder::big ? offset + i : offset + size - 1 - i;
    value = value << 8 | static_cast<unsigned char>(bytes[from]);
  }
  return value;
}
[[nodiscard]] inline std::uint16_t wire_u16(std::string_view bytes, std::size_t offset, WireOrder order) {
  return static_cast<std::uint16_t>(wire_number(bytes, offset, 2, order));
}
[[nodiscard]] inline std::uint32_t wire_u32(std::string_view bytes, std::size_t offset, WireOrder order) {
  return static_cast<std::uint32_t>(wire_number(bytes, offset, 4, order));
}

inline void put_number(std::string& out, std::uint64_t value, std::size_t size, WireOrder order) {
  for (std::size_t i = 0; i < size; ++i) {
    const std::size_t shift = 8 * (order == WireOrder::big ? size - 1 - i : i);
    out += static_cast<char>(value >> shift & 0xFFU);
  }
}
inline void put_u16(std::string& out, std::uint16_t value, WireOrder order) {
  put_number(out, value, 2, order);
}
inline void put_u32(std::string& out, std::uint32_t value, WireOrder order) {
  put_number(out, value, 4, order);
}

}  // namespace sumplog
