#include "core/capture/usual_line.h"

#include <bit>
#include <cstring>

#if defined(__SSE2__)
#include <emmintrin.h>
#endif

#include "core/capture/hex_digit.h"

namespace sumplog {
namespace {

constexpr std::size_t kPoint = 11;     // "(1700000000.123456) ": place of the point,
constexpr std::size_t kClosing = 18;   // of the parenthesis,
constexpr std::size_t kBus = 20;       // and of the interface name
constexpr std::size_t kShortest = 25;  // "(1700000000.123456) a 123#"
constexpr std::size_t kMostBytes = 8;  // linux/can.h, CAN_MAX_DLEN
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

/// Hex digits to bytes; false when one of them is no hex digit.
bool read_bytes(const char* text, std::size_t count, std::uint8_t* bytes) {
  std::uint32_t seen = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const std::uint32_t value = hex_value(text[2 * i]) << 4 | hex_value(text[2 * i + 1]);
    seen |= value;
    bytes[i] = static_cast<std::uint8_t>(value);
  }
  return seen < kNoHexDigit;
}

/// The same for eight bytes, which most frames have.
bool read_eight_bytes(const char* text, std::uint8_t* bytes) {
#if defined(__SSE2__)
  const auto all = [](int c) { return _mm_set1_epi8(static_cast<char>(c)); };
  const auto at_most = [](__m128i v, __m128i most) { return _mm_cmpeq_epi8(_mm_min_epu8(v, most), v); };
  const __m128i characters = _mm_loadu_si128(reinterpret_cast<const __m128i*>(text));
  const __m128i digit = _mm_sub_epi8(characters, all('0'));
  const __m128i letter =
      _mm_sub_epi8(_mm_or_si128(characters, all(0x20)), all('a'));  // small and large ones alike
  const __m128i is_digit = at_most(digit, all(9));
  const __m128i is_letter = at_most(letter, all(5));
  if (_mm_movemask_epi8(_mm_or_si128(is_digit, is_letter)) != 0xFFFF) return false;
  const __m128i halves =
      _mm_or_si128(_mm_and_si128(is_digit, digit), _mm_and_si128(is_letter, _mm_add_epi8(letter, all(10))));
  const __m128i pairs = _mm_or_si128(_mm_slli_epi16(halves, 4), _mm_srli_epi16(halves, 8));
  const __m128i low = _mm_and_si128(pairs, _mm_set1_epi16(0xFF));
  _mm_storel_epi64(reinterpret_cast<__m128i*>(bytes), _mm_packus_epi16(low, low));
  return true;
#else
  return read_bytes(text, kMostBytes, bytes);
#endif
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

bool read_usual_line(std::string_view line, CanFrame& frame) {
  if (line.size() < kShortest || !read_time(line.data(), frame.at)) return false;
  const char* const end = line.data() + line.size();
  const char* at = line.data() + kBus;
  const std::string_view last_bus = frame.bus.text();
  const bool same_bus = !last_bus.empty() && line.size() > kBus + last_bus.size() &&
                        at[last_bus.size()] == ' ' && begins_with(at, last_bus);
  if (!same_bus) {
    while (at < end && *at != ' ' && *at != '\t') ++at;
    frame.bus = BusName(line.substr(kBus, static_cast<std::size_t>(at - (line.data() + kBus))));
    // A name of the greatest length may have been cut: the plain way looks at it.
    if (at == end || *at != ' ' || frame.bus.empty() || frame.bus.text().size() == BusName::kMaxLength)
      return false;
  } else {
    at += last_bus.size();
  }
  ++at;

  std::uint32_t id = 0;
  const char* const first = at;
  while (at < end && hex_value(*at) != kNoHexDigit && at - first < 9) id = id << 4 | hex_value(*at++);
  if (at == end || *at != '#') return false;
  if (at - first == 3) {
    if (id > kMaxStandard) return false;
    frame.id = standard_id(id);
  } else if (at - first == 8) {
    if (id > kMaxExtended) return false;
    frame.id = extended_id(id);
  } else {
    return false;
  }
  ++at;

  const auto digits = static_cast<std::size_t>(end - at);
  if (digits > 2 * kMostBytes || digits % 2 != 0) return false;
  frame.length = static_cast<std::uint8_t>(digits / 2);
  return frame.length == kMostBytes ? read_eight_bytes(at, frame.bytes.data())
                                    : read_bytes(at, frame.length, frame.bytes.data());
}

}  // namespace sumplog
