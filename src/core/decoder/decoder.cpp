#include "core/decoder/decoder.h"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace sumplog {
namespace {

constexpr int kBitsPerByte = 8;
constexpr int kBitsOfRaw = 64;
/// A value that misses an end of the valid range by less than this share of a step missed it by the rounding
/// of the double, not on the wire: 255 * (100/255) need not be 100.
constexpr double kRoundingShare = 1e-6;

/// The bits of a field (of a signal, or its multiplexor) as they stand, without sign.
template <class Field>
std::uint64_t field_bits(const Field& field, std::span<const std::uint8_t> data) {
  std::uint64_t bits = 0;
  for (int i = 0; i < field.bit_length; ++i) {
    const bool big = field.byte_order == ByteOrder::big;
    // Both orders start with the most significant bit of the field, so that one shift serves both.
    const int position = big ? field.start_bit + i : field.start_bit + field.bit_length - 1 - i;
    const auto byte = static_cast<std::size_t>(position / kBitsPerByte);
    const int in_byte = position % kBitsPerByte;
    const int shift = big ? kBitsPerByte - 1 - in_byte : in_byte;
    bits = bits << 1U | (static_cast<unsigned>(data[byte]) >> shift & 1U);
  }
  return bits;
}

std::int64_t with_sign(std::uint64_t bits, const Signal& signal) {
  const bool negative = signal.is_signed && (bits >> (signal.bit_length - 1) & 1U) != 0;
  if (negative && signal.bit_length < kBitsOfRaw) bits |= ~std::uint64_t{0} << signal.bit_length;
  return static_cast<std::int64_t>(bits);
}

}  // namespace

std::vector<UnitAddress> addresses_of(const AddressRange& range) {
  std::vector<UnitAddress> addresses;
  for (std::uint32_t request = range.first.value; request <= range.last.value; ++request) {
    UnitAddress one;
    one.request = standard_id(request);
    one.response = standard_id(request + static_cast<std::uint32_t>(range.answer_offset));
    addresses.push_back(one);
  }
  return addresses;
}

std::string_view text_of(Origin origin) {
  switch (origin) {
    case Origin::standard: return "standard";
    case Origin::service_manual: return "service manual";
    case Origin::capture: return "capture";
    case Origin::inferred: return "inferred";
    case Origin::invented: return "invented";
  }
  return "";
}

std::string_view text_of(DecodeError error) {
  switch (error) {
    case DecodeError::wrong_length: return "wrong length";
    case DecodeError::not_here: return "not in this frame";
    case DecodeError::not_available: return "not available";
    case DecodeError::out_of_range: return "out of range";
  }
  return "";
}

std::int64_t raw_value(const Signal& signal, std::span<const std::uint8_t> data) {
  assert(signal.bit_length >= 1 && signal.bit_length <= kBitsOfRaw && signal.start_bit >= 0);
  assert(static_cast<std::size_t>(signal.start_bit + signal.bit_length) <= data.size() * kBitsPerByte);
  return with_sign(field_bits(signal, data), signal);
}

bool carries(const Signal& signal, std::span<const std::uint8_t> data) {
  return !signal.multiplexor || field_bits(*signal.multiplexor, data) == signal.multiplexor->raw;
}

const RawPattern* no_value_pattern(const Signal& signal, std::span<const std::uint8_t> data) {
  const std::uint64_t bits = field_bits(signal, data);
  for (const RawPattern& pattern : signal.no_value) {
    if (bits >= pattern.low && bits <= pattern.high) return &pattern;
  }
  return nullptr;
}

std::string_view label_of(const Signal& signal, std::int64_t raw) {
  for (const auto& [value, label] : signal.labels) {
    if (value == raw) return label;
  }
  return {};
}

Result<double, DecodeError> decode(const Signal& signal, std::span<const std::uint8_t> data) {
  if (data.size() != static_cast<std::size_t>(signal.length)) {
    return tl::unexpected(DecodeError::wrong_length);
  }
  if (!carries(signal, data)) return tl::unexpected(DecodeError::not_here);
  if (no_value_pattern(signal, data) != nullptr) return tl::unexpected(DecodeError::not_available);
  const double value = static_cast<double>(raw_value(signal, data)) * signal.scale + signal.offset;
  const double slack = std::abs(signal.scale) * kRoundingShare;
  // Written so that a NaN is refused too.
  const bool inside = value >= signal.valid_low - slack && value <= signal.valid_high + slack;
  if (!inside) return tl::unexpected(DecodeError::out_of_range);
  return std::clamp(value, signal.valid_low, signal.valid_high);
}

}  // namespace sumplog
