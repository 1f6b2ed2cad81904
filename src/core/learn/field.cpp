#include "core/learn/field.h"

#include <bitset>

#include "core/learn/payload_log.h"

namespace sumplog {
namespace {

constexpr int kBitsPerByte = 8;
constexpr int kPair = 16;
constexpr int kLongestPacked = 12;   // own choice: of the packed fields that makers send temperatures in
constexpr int kMostPackedBytes = 8;  // longer frames (CAN FD) are looked at by whole bytes
using Bits = std::bitset<PayloadLog::kLongest * kBitsPerByte>;

/// The bits of the payload that the field takes, counted by weight within each byte.
Bits bits_of(const Field& field) {
  Bits bits;
  for (int i = field.start_bit; i < field.start_bit + field.bit_length; ++i) {
    const int in_byte =
        field.byte_order == ByteOrder::big ? kBitsPerByte - 1 - i % kBitsPerByte : i % kBitsPerByte;
    const int byte = i / kBitsPerByte;
    bits.set(static_cast<std::size_t>(byte) * kBitsPerByte + static_cast<std::size_t>(in_byte));
  }
  return bits;
}

void add_both_signs(std::vector<Field>& fields, Field field) {
  field.is_signed = false;
  fields.push_back(field);
  field.is_signed = true;
  fields.push_back(field);
}

}  // namespace

std::int32_t Field::raw(std::span<const std::uint8_t> payload) const {
  const int first = start_bit / kBitsPerByte;
  const int last = (start_bit + bit_length - 1) / kBitsPerByte;
  std::uint32_t bits = 0;
  if (byte_order == ByteOrder::big) {
    for (int i = first; i <= last; ++i) bits = bits << 8U | payload[static_cast<std::size_t>(i)];
    bits >>= static_cast<unsigned>((last + 1) * kBitsPerByte - start_bit - bit_length);
  } else {
    for (int i = last; i >= first; --i) bits = bits << 8U | payload[static_cast<std::size_t>(i)];
    bits >>= static_cast<unsigned>(start_bit - first * kBitsPerByte);
  }
  bits &= (std::uint32_t{1} << static_cast<unsigned>(bit_length)) - 1U;
  const bool negative = is_signed && (bits >> static_cast<unsigned>(bit_length - 1) & 1U) != 0;
  return static_cast<std::int32_t>(bits) - (negative ? std::int32_t{1} << bit_length : 0);
}

void Field::put(std::span<std::uint8_t> payload, std::int32_t raw) const {
  for (int i = 0; i < bit_length; ++i) {
    const bool big = byte_order == ByteOrder::big;
    const int position = big ? start_bit + bit_length - 1 - i : start_bit + i;
    const int shift = big ? kBitsPerByte - 1 - position % kBitsPerByte : position % kBitsPerByte;
    const auto mask = static_cast<std::uint8_t>(1U << static_cast<unsigned>(shift));
    std::uint8_t& byte = payload[static_cast<std::size_t>(position / kBitsPerByte)];
    const bool set = (static_cast<std::uint32_t>(raw) >> static_cast<unsigned>(i) & 1U) != 0;
    byte = static_cast<std::uint8_t>(set ? byte | mask : byte & ~mask);
  }
}

bool Field::meets(const Field& other) const {
  return (bits_of(*this) & bits_of(other)).any();
}

std::string text_of(const Field& field) {
  const bool pair = field.bit_length > kBitsPerByte;
  std::string text;
  if (field.whole_bytes()) {
    const int byte = field.start_bit / kBitsPerByte;
    text = pair ? "bytes " + std::to_string(byte) + '-' + std::to_string(byte + 1)
                : "byte " + std::to_string(byte);
  } else {
    text = "bits " + std::to_string(field.start_bit) + '-' +
           std::to_string(field.start_bit + field.bit_length - 1);
  }
  if (pair || !field.whole_bytes()) text += field.byte_order == ByteOrder::big ? ", big" : ", little";
  if (field.is_signed) text += ", signed";
  return text;
}

std::vector<Field> fields_of(const ByteSource& source) {
  std::vector<Field> fields;
  const int bits = source.length * kBitsPerByte;
  for (int start = 0; start + kBitsPerByte <= bits; start += kBitsPerByte) {
    add_both_signs(fields, {start, kBitsPerByte, ByteOrder::big, false});
    if (start + kPair > bits) continue;
    add_both_signs(fields, {start, kPair, ByteOrder::big, false});
    add_both_signs(fields, {start, kPair, ByteOrder::little, false});
  }
  if (!source.is_broadcast() || source.length > kMostPackedBytes) return fields;
  for (int length = kBitsPerByte; length <= kLongestPacked; ++length)
    for (int start = 0; start + length <= bits; ++start)
      for (const ByteOrder order : {ByteOrder::big, ByteOrder::little}) {
        if (length == kBitsPerByte && start % kBitsPerByte == 0) continue;  // a whole byte, above
        // Eight bits within two bytes read differently in the two orders, so both are kept.
        add_both_signs(fields, {start, length, order, false});
      }
  return fields;
}

}  // namespace sumplog
