#include "core/capture/asc_reader.h"

#include <array>
#include <charconv>
#include <map>

#include "core/capture/asc_date.h"
#include "core/capture/asc_words.h"
#include "core/capture/decimal_time.h"
#include "core/capture/text_reader.h"

namespace sumplog {
namespace {

constexpr int kHex = 16;
constexpr int kDecimal = 10;
constexpr std::uint32_t kMaxStandard = 0x7FF;       // ISO 11898-1, 11 bit
constexpr std::uint32_t kMaxExtended = 0x1FFFFFFF;  // ISO 11898-1, 29 bit
constexpr std::uint32_t kMaxDlc = 15;               // ISO 11898-1, 4 bit
constexpr std::uint32_t kMaxClassic = 8;            // linux/can.h, CAN_MAX_DLEN
constexpr std::uint32_t kMaxFd = 64;                // linux/can.h, CANFD_MAX_DLEN
constexpr std::uint32_t kMaxChannel = 255;          // bound of ours; logs have some tens at most
constexpr std::uint32_t kBusError = 0x80;           // linux/can/error.h, CAN_ERR_BUSERROR

constexpr std::string_view kEndOfBlock = "End TriggerBlock";

std::optional<std::uint32_t> unsigned_number(std::string_view text, int base) {
  std::uint32_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, base);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

/// Digits only, so that "1" is a channel and "1A" or "SV:" is not.
bool is_number(std::string_view text) {
  return unsigned_number(text, kDecimal).has_value();
}

enum class Direction : std::uint8_t { received, sent, requested, none };
Direction direction_of(std::string_view word) {
  if (same_word(word, "Rx")) return Direction::received;
  if (same_word(word, "Tx")) return Direction::sent;
  if (same_word(word, "TxRq")) return Direction::requested;
  return Direction::none;
}

/// Events of a channel that carry no frame.
bool is_channel_event(std::string_view word) {
  for (const std::string_view known : {"Statistic:", "OverloadFrame", "J1939TP"}) {
    if (same_word(word, known)) return true;
  }
  return false;
}

using Clause = std::optional<std::string>;  // what is wrong; nothing when all is well

/// "1C4D80A7x" or "300".
Clause read_id(std::string_view word, int base, CanId& id) {
  const bool extended = !word.empty() && (word.back() == 'x' || word.back() == 'X');
  const auto value = unsigned_number(word.substr(0, word.size() - (extended ? 1 : 0)), base);
  if (!value)
    return "identifier '" + std::string(word) + "' is not a number; a log with names cannot be read";
  if (*value > (extended ? kMaxExtended : kMaxStandard))
    return "identifier " + std::string(word) + " is out of range";
  id = CanId{*value, extended};
  return std::nullopt;
}

Clause read_bytes(Words& words, std::uint32_t count, int base, CanFrame& frame) {
  constexpr std::uint32_t kMaxByte = 0xFF;
  for (std::uint32_t i = 0; i < count; ++i) {
    const auto byte = unsigned_number(words.peek(), base);
    if (!byte || *byte > kMaxByte) {
      return "data byte " + std::to_string(i + 1) + " of " + std::to_string(count) +
             (words.peek().empty() ? " is missing" : " is '" + std::string(words.peek()) + "'");
    }
    words.take();
    frame.bytes[i] = static_cast<std::uint8_t>(*byte);
  }
  frame.length = static_cast<std::uint8_t>(count);
  return std::nullopt;
}

/// The length code of a classic frame is one hex digit, or two decimal ones; 9…15 mean 8 bytes (ISO 11898-1).
std::optional<std::uint32_t> classic_length(std::string_view word) {
  const auto dlc = unsigned_number(word, word.size() == 1 ? kHex : kDecimal);
  if (!dlc || *dlc > kMaxDlc) return std::nullopt;
  return std::min(*dlc, kMaxClassic);
}

void make_error_frame(CanFrame& frame) {
  // The form says no more than "error"; asc2log.c makes the same frame of it.
  frame.kind = FrameKind::error;
  frame.id = standard_id(kBusError);
  frame.length = kMaxClassic;
}

class AscReader final : public TextReader {
 private:
  void on_line(std::string_view line, std::uint64_t number) override {
    if (line.starts_with("//")) {
      on_comment(line);
      return;
    }
    Words words(line);
    if (const auto offset = stamp_us(words.peek())) {
      (void)words.take();
      if (const auto at = event_time(*offset)) {
        on_event(words, *at, number);
      } else {
        log_.bad_record(number, "the time is out of range");
      }
    } else {
      on_header(words, number);
    }
  }

  bool carries_nothing(std::string_view line) const override {
    return line.starts_with("//") || same_word(line, kEndOfBlock);
  }

  void on_comment(std::string_view line) {
    if (!line.starts_with(kAscChannelComment)) return;
    Words words(line.substr(kAscChannelComment.size()));
    const auto channel = unsigned_number(words.take(), kDecimal);
    if (channel && words.take() == kAscChannelIs && !words.peek().empty())
      buses_.insert_or_assign(*channel, BusName(words.peek()));
  }

  void on_header(Words& words, std::uint64_t number) {
    const std::string_view first = words.take();
    if (same_word(first, "date")) {
      set_start(words.rest(), number);
    } else if (same_word(first, "base")) {
      on_base(words, number);
    } else if (same_word(first, "Begin") && same_word(words.peek(), "Triggerblock")) {
      words.take();
      if (!words.peek().empty()) on_trigger_block(words.rest(), number);
    } else if (!(same_word(first, "End") && same_word(words.peek(), "Triggerblock")) &&
               !(same_word(first, "internal") && same_word(words.peek(), "events")) &&
               !(same_word(first, "no") && same_word(words.peek(), "internal"))) {
      log_.bad_record(number, "the line begins neither with a time nor with a word of the form's header");
    }
  }

  void on_base(Words& words, std::uint64_t number) {
    const std::string_view base = words.take();
    if (same_word(base, "hex") || same_word(base, "dec")) {
      base_ = same_word(base, "hex") ? kHex : kDecimal;
    } else {
      log_.bad_record(number, "base '" + std::string(base) + "' is neither hex nor dec");
    }
    if (!same_word(words.take(), "timestamps")) return;
    const std::string_view stamps = words.take();
    if (same_word(stamps, "absolute") || same_word(stamps, "relative")) {
      relative_ = same_word(stamps, "relative");
    } else {
      log_.bad_record(number, "timestamps '" + std::string(stamps) + "' are neither absolute nor relative");
    }
  }

  void set_start(std::string_view date, std::uint64_t number) {
    if (const auto start = parse_asc_date(date)) {
      start_ = now_ = *start;
    } else {
      log_.bad_record(number, "the date '" + std::string(date.substr(0, 60)) +
                                  "' is not understood; times count from the last date that was");
    }
  }

  /// The first block's date is that of the first stamp (some writers put the time of writing into the
  /// header). A later block goes on counting from there, unless its stamps begin anew.
  void on_trigger_block(std::string_view date, std::uint64_t number) {
    const auto start = parse_asc_date(date);
    if (seen_event_ && !relative_ && start) {
      next_start_ = *start;
    } else {
      set_start(date, number);
    }
  }

  /// Microseconds; nothing: the line does not begin with a time, and is none of a frame.
  static std::optional<std::int64_t> stamp_us(std::string_view word) {
    return word.find('.') == std::string_view::npos ? std::nullopt : decimal_micros(word);
  }

  std::optional<TimePoint> event_time(std::int64_t offset) {
    constexpr std::int64_t kMaxOffset = kAscLongest.count();
    if (offset > kMaxOffset || offset < -kMaxOffset) return std::nullopt;
    if (next_start_) {
      if (offset < last_offset_) start_ = *next_start_;
      next_start_.reset();
    }
    seen_event_ = true;
    last_offset_ = offset;
    const TimePoint at = (relative_ ? now_ : start_) + Duration{offset};
    constexpr TimePoint kLatest = at_micros(400LL * kMaxOffset);  // relative stamps add up
    if (at > kLatest || at < -kLatest.time_since_epoch() + TimePoint{}) return std::nullopt;
    now_ = at;
    return at;
  }

  void on_event(Words& words, TimePoint at, std::uint64_t number) {
    CanFrame frame;
    frame.at = at;
    const std::string_view kind = words.peek();
    Clause why;
    bool is_frame = false;
    if (same_word(kind, "CANFD")) {
      words.take();
      why = on_fd_line(words, frame, is_frame);
    } else if (same_word(kind, "CANXL")) {
      why = "CAN XL lines are not read";
    } else if (is_number(kind)) {
      why = on_classic_line(words, frame, is_frame);
    }
    if (why) {
      log_.bad_record(number, std::move(*why));
    } else if (is_frame) {
      log_.add(frame);
    }
  }

  /// 13.258199 1  180x            Tx   d 8 6A 00 00 00 00 00 00 00  Length = …
  Clause on_classic_line(Words& words, CanFrame& frame, bool& is_frame) {
    if (Clause why = read_channel(words, frame)) return why;
    const std::string_view id = words.take();
    if (same_word(id, "ErrorFrame")) {
      make_error_frame(frame);
      is_frame = true;
      return std::nullopt;
    }
    if (is_channel_event(id)) return std::nullopt;
    const std::string_view way = words.take();
    switch (direction_of(way)) {
      case Direction::received:
      case Direction::sent: break;
      case Direction::requested: return std::nullopt;  // not on the bus yet
      case Direction::none: return "direction '" + std::string(way) + "' is neither Rx nor Tx";
    }
    if (Clause why = read_id(id, base_, frame.id)) return why;
    const std::string_view kind = words.take();
    is_frame = true;
    if (same_word(kind, "r")) {
      frame.kind = FrameKind::remote;
      if (const auto length = classic_length(words.peek())) frame.length = static_cast<std::uint8_t>(*length);
      return std::nullopt;
    }
    if (!same_word(kind, "d")) return "'" + std::string(kind) + "' is neither d (data) nor r (remote)";
    const auto length = classic_length(words.peek());
    if (!length) return "length code '" + std::string(words.peek()) + "' is not one of 0…F";
    words.take();
    return read_bytes(words, *length, base_, frame);
  }

  /// CANFD   1 Rx        300  Name                  1 0 8  8 11 C2 03 04 05 06 07 08   102203  133   303000 …
  /// Identifier and data are hexadecimal whatever the base (asc2log.c); the name is optional.
  Clause on_fd_line(Words& words, CanFrame& frame, bool& is_frame) {
    if (Clause why = read_channel(words, frame)) return why;
    const std::string_view way = words.take();
    switch (direction_of(way)) {
      case Direction::received:
      case Direction::sent: break;
      case Direction::requested: return std::nullopt;
      case Direction::none: return "direction '" + std::string(way) + "' is neither Rx nor Tx";
    }
    const std::string_view id = words.take();
    is_frame = true;
    if (same_word(id, "ErrorFrame")) {
      make_error_frame(frame);
      return std::nullopt;
    }
    if (Clause why = read_id(id, kHex, frame.id)) return why;
    const auto is_bit = [](std::string_view word) { return word == "0" || word == "1"; };
    if (!is_bit(words.peek())) words.take();  // the symbolic name
    const std::string_view switched = words.take();
    const std::string_view passive = words.take();
    if (!is_bit(switched) || !is_bit(passive)) return "the BRS and ESI columns are not 0 or 1";
    const auto dlc = unsigned_number(words.take(), kHex);
    if (!dlc || *dlc > kMaxDlc) return "the length code is not one of 0…F";
    const auto length = unsigned_number(words.take(), kDecimal);
    if (!length || *length > kMaxFd) return "the data length is not one of 0…64";
    if (Clause why = read_bytes(words, *length, kHex, frame)) return why;

    words.take();  // duration of the frame
    words.take();  // its length in bits
    const auto flags = unsigned_number(words.take(), kHex);
    frame.fd = !flags || (*flags & kAscFd) != 0 || *length > kMaxClassic;
    if (frame.fd) {
      frame.bit_rate_switch = switched == "1";
      frame.error_state = passive == "1";
    } else if ((*flags & kAscRemote) != 0) {
      frame.kind = FrameKind::remote;
      frame.length = static_cast<std::uint8_t>(std::min(*dlc, kMaxClassic));
    }
    return std::nullopt;
  }

  Clause read_channel(Words& words, CanFrame& frame) {
    const std::string_view word = words.take();
    const auto channel = unsigned_number(word, kDecimal);
    if (!channel || *channel < 1 || *channel > kMaxChannel)
      return "channel '" + std::string(word) + "' is not one of 1…255";
    const auto named = buses_.find(*channel);
    frame.bus = named != buses_.end() ? named->second : BusName("can" + std::to_string(*channel - 1));
    return std::nullopt;
  }

  int base_ = kHex;
  bool relative_ = false;
  bool seen_event_ = false;
  TimePoint start_{};  ///< absolute stamps count from here
  TimePoint now_{};    ///< relative stamps count from here
  std::int64_t last_offset_ = 0;
  std::optional<TimePoint> next_start_;  ///< of a later trigger block
  std::map<std::uint32_t, BusName> buses_;
};

}  // namespace

bool is_asc_header(std::string_view line) {
  Words words(line);
  const std::string_view first = words.take();
  if (same_word(first, "date")) return !words.peek().empty();
  if (same_word(first, "base")) return same_word(words.peek(), "hex") || same_word(words.peek(), "dec");
  return same_word(first, "Begin") && same_word(words.peek(), "Triggerblock");
}

std::unique_ptr<CaptureReader> make_asc_reader() {
  return std::make_unique<AscReader>();
}

}  // namespace sumplog
