#include "core/capture/candump_text.h"

#include <array>
#include <cassert>
#include <limits>

#include "core/capture/hex_digit.h"

namespace sumplog {
namespace {

// can-utils lib.h: 3 hex digits are an 11-bit identifier, 8 hex digits a 29-bit one or an error class.
constexpr std::size_t kStandardDigits = 3;
constexpr std::size_t kExtendedDigits = 8;
constexpr std::uint32_t kMaxStandard = 0x7FF;       // ISO 11898-1, 11 bit
constexpr std::uint32_t kMaxExtended = 0x1FFFFFFF;  // ISO 11898-1, 29 bit
constexpr std::uint32_t kErrorFlag = 0x20000000;    // linux/can.h, CAN_ERR_FLAG
constexpr unsigned kFlagBrs = 1;                    // linux/can.h, CANFD_BRS
constexpr unsigned kFlagEsi = 2;                    // linux/can.h, CANFD_ESI
constexpr std::size_t kMaxClassic = 8;              // linux/can.h, CAN_MAX_DLEN
constexpr std::size_t kMaxFd = 64;                  // linux/can.h, CANFD_MAX_DLEN
constexpr std::size_t kMinSecondDigits = 10;        // candump.c: "%010ld.%06ld"
constexpr std::size_t kMaxFractionDigits = 9;       // nanoseconds
constexpr std::size_t kFractionDigits = 6;
constexpr std::int64_t kMicrosPerSecond = 1000000;
constexpr char kHex[] = "0123456789ABCDEF";

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
bool is_blank(char c) {
  return c == ' ' || c == '\t';
}

tl::unexpected<std::string> wrong(std::string why) {
  return tl::unexpected<std::string>(std::move(why));
}

/// Position in the line; one past the end reads as NUL, which no rule accepts and nobody takes.
class Cursor {
 public:
  explicit Cursor(std::string_view text) : text_(text) {}
  [[nodiscard]] char peek(std::size_t ahead = 0) const {
    return at_ + ahead < text_.size() ? text_[at_ + ahead] : '\0';
  }
  [[nodiscard]] bool at_end() const { return at_ >= text_.size(); }
  [[nodiscard]] std::size_t position() const { return at_; }
  [[nodiscard]] std::string_view from(std::size_t start) const { return text_.substr(start, at_ - start); }
  void step(std::size_t n = 1) { at_ += n; }
  bool take(char c) {
    if (peek() != c) return false;
    ++at_;
    return true;
  }
  bool take_blanks() {
    const std::size_t start = at_;
    while (!at_end() && is_blank(text_[at_])) ++at_;
    return at_ > start;
  }

 private:
  std::string_view text_;
  std::size_t at_ = 0;
};

/// "(sec.fraction)", a fraction of any length being a decimal fraction: ".5" is half a second.
/// Returns nullptr, or what is wrong.
const char* read_time(Cursor& cursor, TimePoint& at) {
  if (!cursor.take('(')) return "a line starts with the time in parentheses, as in (1700000000.123456)";
  const bool negative = cursor.take('-');
  constexpr std::int64_t kMaxSeconds = std::numeric_limits<std::int64_t>::max() / kMicrosPerSecond - 1;
  std::int64_t seconds = 0;
  const std::size_t first = cursor.position();
  while (is_digit(cursor.peek())) {
    seconds = seconds * 10 + (cursor.peek() - '0');
    if (seconds > kMaxSeconds) return "the time is out of range";
    cursor.step();
  }
  if (cursor.position() == first) return "the time has no seconds";
  if (!cursor.take('.')) return "the time has no decimal point";
  std::int64_t fraction = 0;
  std::size_t digits = 0;
  for (; is_digit(cursor.peek()); cursor.step(), ++digits) {
    if (digits < kFractionDigits) fraction = fraction * 10 + (cursor.peek() - '0');
  }
  if (digits == 0) return "the time has no digit after its point";
  if (digits > kMaxFractionDigits) return "the time has more than 9 digits after its point";
  for (std::size_t i = digits; i < kFractionDigits; ++i) fraction *= 10;
  if (!cursor.take(')')) return "the time does not end in a parenthesis";
  const std::int64_t us = seconds * kMicrosPerSecond + fraction;
  at = at_micros(negative ? -us : us);
  return nullptr;
}

/// Pairs of hex digits with dots between them as one likes; stops at the first other character.
const char* read_data(Cursor& cursor, std::size_t most, CanFrame& frame) {
  std::size_t count = 0;
  for (;;) {
    // lib.c: one dot may stand before each byte.
    if (cursor.peek() == '.' && (count > 0 || hex_value(cursor.peek(1)) != kNoHexDigit)) cursor.step();
    const std::uint32_t high = hex_value(cursor.peek());
    if (high == kNoHexDigit) break;
    const std::uint32_t low = hex_value(cursor.peek(1));
    if (low == kNoHexDigit) return "a data byte has one digit only";
    if (count == most) return frame.fd ? "more than 64 data bytes" : "more than 8 data bytes";
    frame.bytes[count++] = static_cast<std::uint8_t>(high << 4 | low);
    cursor.step(2);
  }
  frame.length = static_cast<std::uint8_t>(count);
  return nullptr;
}

/// What may follow the frame: a direction, blanks.
bool read_tail(Cursor& cursor) {
  if (cursor.take_blanks() && (cursor.peek() == 'R' || cursor.peek() == 'T')) {
    cursor.step();
    cursor.take_blanks();
  }
  return cursor.at_end();
}

/// lib.h: "_9" … "_F" after 8 bytes is the raw DLC of a classic frame; its length stays 8.
void read_raw_dlc(Cursor& cursor, const CanFrame& frame) {
  if (frame.length == kMaxClassic && cursor.peek() == '_' && hex_value(cursor.peek(1)) != kNoHexDigit &&
      hex_value(cursor.peek(1)) > kMaxClassic) {
    cursor.step(2);
  }
}

const char* read_payload(Cursor& cursor, CanFrame& frame) {
  if (cursor.take('#')) {
    if (frame.kind == FrameKind::error) return "an error frame cannot be CAN FD";
    const std::uint32_t flags = hex_value(cursor.peek());
    if (flags == kNoHexDigit) return "the flag digit after ## is missing";
    cursor.step();
    frame.fd = true;
    frame.bit_rate_switch = (flags & kFlagBrs) != 0;
    frame.error_state = (flags & kFlagEsi) != 0;
    return read_data(cursor, kMaxFd, frame);
  }
  if (cursor.peek() == 'R' || cursor.peek() == 'r') {
    if (frame.kind == FrameKind::error) return "an error frame cannot be a remote frame";
    cursor.step();
    frame.kind = FrameKind::remote;
    if (is_digit(cursor.peek())) {
      frame.length = static_cast<std::uint8_t>(cursor.peek() - '0');
      if (frame.length > kMaxClassic) return "a remote frame asks for more than 8 bytes";
      cursor.step();
    }
    read_raw_dlc(cursor, frame);
    return nullptr;
  }
  if (const char* why = read_data(cursor, kMaxClassic, frame)) return why;
  read_raw_dlc(cursor, frame);
  return nullptr;
}

}  // namespace

std::string candump_line(const CanFrame& frame) {
  assert(!frame.bus.empty());
  assert(frame.length <= (frame.fd ? kMaxFd : kMaxClassic));
  // "(-" 19 digits "." 6 digits ") " 15 " " 8 "##" 1 and 64 bytes of 2 digits
  std::array<char, 200> text;
  std::size_t n = 0;
  const auto put = [&](char c) { text[n++] = c; };
  const auto put_decimal = [&](std::uint64_t value, std::size_t width) {
    std::array<char, 20> digits;
    std::size_t count = 0;
    for (; value > 0 || count < width; value /= 10) digits[count++] = static_cast<char>('0' + value % 10);
    while (count > 0) put(digits[--count]);
  };
  const auto put_hex = [&](std::uint32_t value, std::size_t width) {
    for (std::size_t i = width; i-- > 0;) put(kHex[value >> (4 * i) & 15U]);
  };

  const std::int64_t us = micros(frame.at);
  const std::uint64_t magnitude =
      us < 0 ? ~static_cast<std::uint64_t>(us) + 1 : static_cast<std::uint64_t>(us);
  put('(');
  if (us < 0) put('-');
  put_decimal(magnitude / kMicrosPerSecond, kMinSecondDigits);
  put('.');
  put_decimal(magnitude % kMicrosPerSecond, kFractionDigits);
  put(')');
  put(' ');
  for (const char c : frame.bus.text()) put(c);
  put(' ');
  if (frame.kind == FrameKind::error) {
    put_hex((frame.id.value & kMaxExtended) | kErrorFlag, kExtendedDigits);
  } else if (frame.id.extended) {
    put_hex(frame.id.value & kMaxExtended, kExtendedDigits);
  } else {
    put_hex(frame.id.value & kMaxStandard, kStandardDigits);
  }
  put('#');
  if (frame.kind == FrameKind::remote) {
    put('R');
    if (frame.length > 0) put(static_cast<char>('0' + frame.length));
    return {text.data(), n};
  }
  if (frame.fd) {
    put('#');
    put(kHex[(frame.bit_rate_switch ? kFlagBrs : 0U) | (frame.error_state ? kFlagEsi : 0U)]);
  }
  for (const std::uint8_t byte : frame.data()) put_hex(byte, 2);
  return {text.data(), n};
}

Result<CanFrame, std::string> parse_candump_line(std::string_view line) {
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  Cursor cursor(line);
  CanFrame frame;
  if (const char* why = read_time(cursor, frame.at)) return wrong(why);

  if (!cursor.take_blanks()) return wrong("no space after the time");
  const std::size_t bus_start = cursor.position();
  while (!cursor.at_end() && !is_blank(cursor.peek())) cursor.step();
  if (cursor.position() == bus_start) return wrong("the interface name is missing");
  frame.bus = BusName(cursor.from(bus_start));
  if (!cursor.take_blanks()) return wrong("the frame is missing after the interface name");

  const std::size_t id_start = cursor.position();
  std::uint32_t id = 0;
  while (hex_value(cursor.peek()) != kNoHexDigit) {
    id = id << 4 | hex_value(cursor.peek());
    cursor.step();
  }
  const std::size_t digits = cursor.position() - id_start;
  if (!cursor.take('#')) return wrong("no # after the identifier");
  if (digits == kStandardDigits) {
    if (id > kMaxStandard) return wrong("identifier of 3 digits is above 7FF");
    frame.id = standard_id(id);
  } else if (digits == kExtendedDigits) {
    if (id > (kErrorFlag | kMaxExtended)) return wrong("identifier of 8 digits is above 3FFFFFFF");
    if ((id & kErrorFlag) != 0) {
      frame.kind = FrameKind::error;
      frame.id = standard_id(id & kMaxExtended);
    } else {
      frame.id = extended_id(id);
    }
  } else {
    return wrong("identifier has " + std::to_string(digits) + (digits == 1 ? " digit" : " digits") +
                 "; 3 or 8 are possible");
  }
  if (const char* why = read_payload(cursor, frame)) return wrong(why);
  if (!read_tail(cursor)) return wrong("unexpected text after the frame");
  return frame;
}

}  // namespace sumplog
