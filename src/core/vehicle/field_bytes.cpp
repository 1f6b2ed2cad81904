#include "core/vehicle/field_bytes.h"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace sumplog {
namespace {

constexpr int kBitsPerByte = 8;

std::uint32_t all_ones(const FieldCoding& coding) {
  return static_cast<std::uint32_t>((std::uint64_t{1} << (kBitsPerByte * coding.bytes)) - 1);
}

std::vector<std::uint8_t> raw_bytes(const FieldCoding& coding, std::uint32_t raw) {
  std::vector<std::uint8_t> bytes;
  for (int i = coding.bytes - 1; i >= 0; --i) {
    bytes.push_back(static_cast<std::uint8_t>(raw >> (kBitsPerByte * i)));
  }
  if (coding.byte_order == ByteOrder::little) std::reverse(bytes.begin(), bytes.end());
  return bytes;
}

}  // namespace

std::vector<std::uint8_t> field_bytes(const FieldCoding& coding, double value) {
  assert(coding.bytes >= 1 && coding.bytes <= 4 && coding.scale != 0);
  const double exact = (value - coding.offset) / coding.scale;
  // std::floor is exact, so the raw value is the same on every machine; half a step goes up.
  const double whole = std::floor(coding.rounding == Rounding::floor ? exact : exact + 0.5);
  const std::uint32_t ones = all_ones(coding);
  const double highest = coding.is_signed ? static_cast<double>(ones >> 1U) : static_cast<double>(ones);
  const double lowest = coding.is_signed ? -highest - 1 : 0;
  const auto raw = static_cast<std::int64_t>(std::clamp(whole, lowest, highest));
  return raw_bytes(coding, static_cast<std::uint32_t>(static_cast<std::uint64_t>(raw)) & ones);
}

std::vector<std::uint8_t> field_bytes(const FieldCoding& coding, Quantity quantity,
                                      const Drivetrain& drivetrain) {
  const double value = drivetrain.value(quantity);
  if (quantity == Quantity::fluid_temperature && drivetrain.sensor() == SensorState::dead) {
    return raw_bytes(coding, coding.no_value.value_or(all_ones(coding)));
  }
  if (quantity == Quantity::selector_position && !coding.codes.empty()) {
    const auto position = static_cast<std::size_t>(value);
    assert(position < coding.codes.size());
    return raw_bytes(coding, coding.codes[position]);
  }
  return field_bytes(coding, value);
}

}  // namespace sumplog
