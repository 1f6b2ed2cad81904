#include "core/capture/usual_line.h"

#include <bit>
#include <cstring>
#include <optional>

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

#include "core/capture/hex_digit.h"

namespace sumplog {
namespace {

constexpr std::size_t kFraction = 12;                   // "(1700000000.123456) ": place of the fraction
constexpr std::size_t kBus = 20;                        // and of the interface name
constexpr std::size_t kWord = 8;                        // characters that are looked at as one number
[[maybe_unused]] constexpr std::size_t kMostBytes = 8;  // linux/can.h, CAN_MAX_DLEN
constexpr std::int64_t kMicrosPerSecond = 1000000;
constexpr std::uint32_t kMaxStandard = 0x7FF;       // ISO 11898-1, 11 bit
constexpr std::uint32_t kMaxExtended = 0x1FFFFFFF;  // ISO 11898-1, 29 bit; above: an error frame

/// Eight characters as one number, the first one lowest, on every processor.
std::uint64_t eight(const char* text) {
  std::uint64_t word;
  std::memcpy(&word, text, sizeof word);
  if constexpr (std::endian::native == std::endian::big) word = __builtin_bswap64(word);
  return word;
}

bool all_digits(std::uint64_t word) {
  return (word & 0xF0F0F0F0F0F0F0F0) == 0x3030303030303030 &&
         ((word + 0x0606060606060606) & 0xF0F0F0F0F0F0F0F0) == 0x3030303030303030;
}
/// Neighbours are joined: digits to pairs, pairs to fours, fours to the number.
std::uint32_t number_of(std::uint64_t digits) {
  digits = (digits & 0x0F0F0F0F0F0F0F0F) * (1 + (10U << 8)) >> 8;
  digits = (digits & 0x00FF00FF00FF00FF) * (1 + (100U << 16)) >> 16;
  return static_cast<std::uint32_t>((digits & 0x0000FFFF0000FFFF) * (1 + (std::uint64_t{10000} << 32)) >> 32);
}

/// Hex digits up to a newline, as bytes.
/// in   text   17 characters can be read; bytes: room for eight
/// out  how many bytes; nothing when there are more than eight, half a byte, or another character
std::optional<std::uint8_t> read_bytes(const char* text, std::uint8_t* bytes) {
#if defined(__SSE2__)
  const auto all = [](int c) { return _mm_set1_epi8(static_cast<char>(c)); };
  const auto at_most = [](__m128i v, __m128i most) { return _mm_cmpeq_epi8(_mm_min_epu8(v, most), v); };
  const auto bits = [](__m128i mask) { return static_cast<unsigned>(_mm_movemask_epi8(mask)); };
  const __m128i characters = _mm_loadu_si128(reinterpret_cast<const __m128i*>(text));
  const __m128i digit = _mm_sub_epi8(characters, all('0'));
  const __m128i letter =
      _mm_sub_epi8(_mm_or_si128(characters, all(0x20)), all('a'));  // small and large ones alike
  const __m128i is_digit = at_most(digit, all(9));
  const __m128i is_letter = at_most(letter, all(5));
  const auto count = static_cast<unsigned>(std::countr_one(bits(_mm_or_si128(is_digit, is_letter))));
  if (text[count] != '\n' || count % 2 != 0) return std::nullopt;
  const __m128i halves =
      _mm_or_si128(_mm_and_si128(is_digit, digit), _mm_and_si128(is_letter, _mm_add_epi8(letter, all(10))));
  const __m128i pairs = _mm_or_si128(_mm_slli_epi16(halves, 4), _mm_srli_epi16(halves, 8));
  const __m128i low = _mm_and_si128(pairs, _mm_set1_epi16(0xFF));
  _mm_storel_epi64(reinterpret_cast<__m128i*>(bytes), _mm_packus_epi16(low, low));
  return static_cast<std::uint8_t>(count / 2);
#else
  std::uint8_t count = 0;
  for (; count < kMostBytes && text[2 * count] != '\n'; ++count) {
    const std::uint32_t value = hex_value(text[2 * count]) << 4 | hex_value(text[2 * count + 1]);
    if (value >= kNoHexDigit) return std::nullopt;
    bytes[count] = static_cast<std::uint8_t>(value);
  }
  if (text[2 * count] != '\n') return std::nullopt;
  return count;
#endif
}

/// 3 or 8 hex digits in front of a '#'; nullptr when there is something else, or no identifier of a data frame.
const char* read_id(const char* text, CanId& id) {
  constexpr std::size_t kStandardDigits = 3;
  constexpr std::size_t kExtendedDigits = 8;
  if (text[kStandardDigits] == '#') {
    // Each digit is a number, or has a bit above all of them.
    const std::uint32_t value = hex_value(text[0]) << 8 | hex_value(text[1]) << 4 | hex_value(text[2]);
    const std::uint32_t seen = hex_value(text[0]) | hex_value(text[1]) | hex_value(text[2]);
    if (seen >= kNoHexDigit || value > kMaxStandard) return nullptr;
    id = standard_id(value);
    return text + kStandardDigits;
  }
  std::uint32_t value = 0;
  std::uint32_t seen = 0;
  for (std::size_t i = 0; i < kExtendedDigits; ++i) {
    const std::uint32_t digit = hex_value(text[i]);
    seen |= digit;
    value = value << 4 | digit;
  }
  if (text[kExtendedDigits] != '#' || seen >= kNoHexDigit || value > kMaxExtended) return nullptr;
  id = extended_id(value);
  return text + kExtendedDigits;
}

/// Six digits and what stands behind them.
/// in   difference  from "000000" and that, bit by bit
/// out  each of the six is a digit, and the rest is the same
bool only_digits_differ(std::uint64_t difference) {
  const std::uint64_t carried = (difference & 0x0000FFFFFFFFFFFF) + 0x0000060606060606;
  return ((difference | carried) & 0xFFFFF0F0F0F0F0F0) == 0;
}

/// The ten digits between '(' and '.'.
bool read_second(const char* text, UsualLineBefore& before) {
  const std::uint64_t first = eight(text + 1);
  const auto ninth = static_cast<std::uint8_t>(text[9] - '0');
  const auto tenth = static_cast<std::uint8_t>(text[10] - '0');
  if (text[0] != '(' || text[kFraction - 1] != '.' || !all_digits(first) || ninth > 9 || tenth > 9)
    return false;
  before.second_us =
      (std::int64_t{number_of(first)} * 100 + std::int64_t{ninth} * 10 + tenth) * kMicrosPerSecond;
  before.second_text = {eight(text), eight(text + kFraction - kWord)};
  return true;
}

bool read_time(const char* text, UsualLineBefore& before, TimePoint& at) {
  constexpr std::uint64_t kExpected = 0x2029303030303030;  // "000000) "
  if ((eight(text) != before.second_text[0] || eight(text + kFraction - kWord) != before.second_text[1]) &&
      !read_second(text, before))
    return false;
  const std::uint64_t fraction = eight(text + kFraction) ^ kExpected;
  if (!only_digits_differ(fraction)) return false;
  at = at_micros(before.second_us + number_of(fraction << 16));
  return true;
}

/// The name that ends with the next blank; nullptr when it cannot be one, or may have been cut: then the plain way looks at it.
const char* read_bus(const char* text, UsualLineBefore& before) {
  if (before.bus_mask != 0 && (eight(text) & before.bus_mask) == before.bus_text)
    return text + before.bus.text().size();
  std::size_t length = 0;
  while (text[length] != ' ') {
    if (text[length] == '\t' || text[length] == '\n' || ++length == BusName::kMaxLength) return nullptr;
  }
  if (length == 0) return nullptr;
  before.bus = BusName(std::string_view(text, length));
  before.bus_mask = length < kWord ? ~std::uint64_t{0} >> (8 * (kWord - 1 - length)) : 0;
  before.bus_text = eight(text) & before.bus_mask;
  return text + length;
}

}  // namespace

std::size_t read_usual_line(std::string_view text, UsualLineBefore& before, CanFrame& frame) {
  if (text.size() < kUsualLineRoom || !read_time(text.data(), before, frame.at)) return 0;
  const char* const behind_bus = read_bus(text.data() + kBus, before);
  if (behind_bus == nullptr) return 0;
  const char* const behind_id = read_id(behind_bus + 1, frame.id);
  if (behind_id == nullptr) return 0;
  const auto length = read_bytes(behind_id + 1, frame.bytes.data());
  if (!length) return 0;
  frame.bus = before.bus;
  frame.length = *length;
  return static_cast<std::size_t>(behind_id + 1 - text.data()) + 2 * frame.length + 1;
}

}  // namespace sumplog
