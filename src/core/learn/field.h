#pragma once
#include <compare>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/learn/byte_source.h"

namespace sumplog {

/// Some bits of a payload that may be a number: start_bit, byte order and sign as in docs/decoder_format.md.
struct Field {
  int start_bit = 0;
  int bit_length = 8;  ///< 8…16
  ByteOrder byte_order = ByteOrder::big;
  bool is_signed = false;
  friend auto operator<=>(const Field&, const Field&) = default;

  /// in   payload  reaches behind the field
  [[nodiscard]] std::int32_t raw(std::span<const std::uint8_t> payload) const;
  /// The inverse: bits of `raw` above the field are left out.
  void put(std::span<std::uint8_t> payload, std::int32_t raw) const;
  [[nodiscard]] bool whole_bytes() const { return start_bit % 8 == 0 && bit_length % 8 == 0; }
  /// True when both have bits in common.
  [[nodiscard]] bool meets(const Field& other) const;
};

/// "byte 3", "bytes 3-4, big", "bits 4-15, little, signed"; bytes are counted from 0.
[[nodiscard]] std::string text_of(const Field& field);

/// Every field that is looked at in a payload: each byte and each pair of neighbours in both orders, with and without sign;
/// of a broadcast also 8 to 12 bits from every bit on, because makers pack their frames tightly.
[[nodiscard]] std::vector<Field> fields_of(const ByteSource& source);

}  // namespace sumplog
