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

constexpr std::size_t kPoint = 11;                      // "(1700000000.123456) ": place of the point,
constexpr std::size_t kClosing = 18;                    // of the parenthesis,
constexpr std::size_t kBus = 20;                        // and of the interface name
[[maybe_unused]] constexpr std::size_t kMostBytes = 8;  // linux/can.h, CAN_MAX_DLEN
constexpr std::int64_t kMicrosPerSecond = 1000000;
constexpr std::uint32_t kMaxStandard = 0x7FF;       // ISO 11898-1, 11 bit
constexpr std::uint32_t kMaxExtended = 0x1FFFFFFF;  // ISO 11898-1, 29 bit; above: an error frame

/// A few characters: cheaper than a call that compares any number of them.
bool begins_with(const char* text, std::string_view word) {
  for (const char c : word)
    if (*text++ != c) return false;
  return true;
}

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

/// The name that ends with the next blank; nullptr when it cannot be one, or may have been cut: then the plain way looks at it.
const char* read_bus(const char* text, BusName& bus) {
  const std::string_view last = bus.text();
  if (!last.empty() && text[last.size()] == ' ' && begins_with(text, last)) return text + last.size();
  std::size_t length = 0;
  while (text[length] != ' ') {
    if (text[length] == '\t' || text[length] == '\n' || ++length == BusName::kMaxLength) return nullptr;
  }
  if (length == 0) return nullptr;
  bus = BusName(std::string_view(text, length));
  return text + length;
}

/// 3 or 8 hex digits in front of a '#'; nullptr when there is something else, or no identifier of a data frame.
const char* read_id(const char* text, CanId& id) {
  constexpr std::size_t kStandardDigits = 3;
  constexpr std::size_t kExtendedDigits = 8;
  const bool standard = text[kStandardDigits] == '#';
  const std::size_t digits = standard ? kStandardDigits : kExtendedDigits;
  std::uint32_t value = 0;
  std::uint32_t seen = 0;
  for (std::size_t i = 0; i < digits; ++i) {
    const std::uint32_t digit = hex_value(text[i]);
    seen |= digit;
    value = value << 4 | digit;
  }
  if (text[digits] != '#' || seen >= kNoHexDigit || value > (standard ? kMaxStandard : kMaxExtended))
    return nullptr;
  id = standard ? standard_id(value) : extended_id(value);
  return text + digits;
}

bool read_time(const char* text, TimePoint& at) {
  constexpr std::uint64_t kTwoZeros = 0x3030;
  const std::uint64_t seconds = eight(text + 1);
  const std::uint64_t fraction = eight(text + kPoint + 1) << 16 | kTwoZeros;
  const auto ninth = static_cast<std::uint8_t>(text[9] - '0');
  const auto tenth = static_cast<std::uint8_t>(text[10] - '0');
  if (text[0] != '(' || text[kPoint] != '.' || text[kClosing] != ')' || text[kClosing + 1] != ' ')
    return false;
  if (!all_digits(seconds) || !all_digits(fraction) || ninth > 9 || tenth > 9) return false;
  const std::int64_t whole = std::int64_t{number_of(seconds)} * 100 + std::int64_t{ninth} * 10 + tenth;
  at = at_micros(whole * kMicrosPerSecond + number_of(fraction));
  return true;
}

}  // namespace

std::size_t read_usual_line(std::string_view text, CanFrame& frame) {
  if (text.size() < kUsualLineRoom || !read_time(text.data(), frame.at)) return 0;
  const char* const behind_bus = read_bus(text.data() + kBus, frame.bus);
  if (behind_bus == nullptr) return 0;
  const char* const behind_id = read_id(behind_bus + 1, frame.id);
  if (behind_id == nullptr) return 0;
  const auto length = read_bytes(behind_id + 1, frame.bytes.data());
  if (!length) return 0;
  frame.length = *length;
  return static_cast<std::size_t>(behind_id + 1 - text.data()) + 2 * frame.length + 1;
}

}  // namespace sumplog
