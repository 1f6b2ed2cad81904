#pragma once
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

// The frames of J1939 transport, as bytes.
namespace sumplog::isotp_words {

inline std::vector<std::uint8_t> packet(const std::vector<std::uint8_t>& payload, std::size_t number) {
  std::vector<std::uint8_t> data{static_cast<std::uint8_t>(number)};
  for (std::size_t i = (number - 1) * 7; i < std::min(number * 7, payload.size()); ++i)
    data.push_back(payload[i]);
  data.resize(8, 0xFF);
  return data;
}
inline std::vector<std::uint8_t> announcement(std::uint8_t control, std::size_t size, std::uint32_t group) {
  return {control,
          static_cast<std::uint8_t>(size & 0xFF),
          static_cast<std::uint8_t>(size >> 8),
          static_cast<std::uint8_t>((size + 6) / 7),
          0xFF,
          static_cast<std::uint8_t>(group & 0xFF),
          static_cast<std::uint8_t>(group >> 8 & 0xFF),
          static_cast<std::uint8_t>(group >> 16)};
}
inline constexpr std::uint8_t kBam = 32;  // SAE J1939-21, TP.CM control byte
inline constexpr std::uint8_t kRts = 16;

}  // namespace sumplog::isotp_words
