#include <algorithm>
#include <array>
#include <charconv>
#include <map>
#include <set>

#include "core/capture/asc_date.h"
#include "core/capture/asc_reader.h"
#include "core/capture/asc_words.h"
#include "core/capture/frame_writer.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr std::size_t kTimeWidth = 11;  // columns as log tools align them; readers need only blanks
constexpr std::size_t kIdWidth = 15;    // log2asc.c
constexpr std::size_t kFdIdWidth = 11;  // log2asc.c
constexpr std::size_t kNameWidth = 34;  // log2asc.c: the place of the symbolic name
constexpr char kHexDigits[] = "0123456789ABCDEF";

/// Length code of a CAN FD frame: the shortest that holds the bytes. src  ISO 11898-1, table of DLC
unsigned fd_length_code(unsigned length) {
  constexpr std::array<std::uint8_t, 16> kLengths{0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64};
  return static_cast<unsigned>(std::lower_bound(kLengths.begin(), kLengths.end(), length) - kLengths.begin());
}

std::string hex_number(std::uint32_t value) {
  std::string text;
  do {
    text.insert(text.begin(), kHexDigits[value & 15U]);
    value >>= 4;
  } while (value > 0);
  return text;
}

std::string id_text(CanId id) {
  return id.extended ? hex_number(id.value) + 'x' : hex_number(id.value);
}

void put_left(std::string text, std::size_t width, std::string& out) {
  text.resize(std::max(width, text.size()), ' ');
  out += text;
}
void put_right(const std::string& text, std::size_t width, std::string& out) {
  out.append(width - std::min(width, text.size()), ' ');
  out += text;
}

class AscWriter final : public FrameWriter {
 public:
  void on_end(std::string& out) override {
    put_header(TimePoint{}, out);
    out += "End TriggerBlock\n";
  }

 private:
  void on_frame(const CanFrame& frame, std::string& out) override {
    if (!has_a_place(frame.at)) {
      leave_out();
      return;
    }
    put_header(frame.at, out);
    const std::uint32_t channel = channel_of(frame.bus, out);
    put_right(seconds_text(TimePoint{frame.at - start_}), kTimeWidth, out);
    out += ' ';
    if (frame.fd) {
      put_fd(frame, channel, out);
    } else {
      put_classic(frame, channel, out);
    }
    out += '\n';
  }

  /// A foreign capture may hold any time, also one that no date can be written for.
  [[nodiscard]] bool has_a_place(TimePoint at) const {
    if (at > kLatestTime || at < kEarliestTime) return false;
    return !begun_ || std::chrono::abs(at - start_) <= kAscLongest;
  }

  static void put_classic(const CanFrame& frame, std::uint32_t channel, std::string& out) {
    put_left(std::to_string(channel), 2, out);
    if (frame.kind == FrameKind::error) {
      out += " ErrorFrame";
      return;
    }
    out += ' ';
    put_left(id_text(frame.id), kIdWidth, out);
    out += frame.kind == FrameKind::remote ? " Rx   r " : " Rx   d ";
    out += kHexDigits[frame.length & 15U];
    put_data(frame, out);
  }

  static void put_fd(const CanFrame& frame, std::uint32_t channel, std::string& out) {
    out += "CANFD ";
    put_right(std::to_string(channel), 3, out);
    out += " Rx   ";
    put_right(id_text(frame.id), kFdIdWidth, out);
    out.append(kNameWidth, ' ');
    out += frame.bit_rate_switch ? "1 " : "0 ";
    out += frame.error_state ? "1 " : "0 ";
    out += static_cast<char>(kHexDigits[fd_length_code(frame.length)] |
                             0x20);  // digits stay, letters become lower case
    out += ' ';
    put_right(std::to_string(frame.length), 2, out);
    put_data(frame, out);
    const std::uint32_t flags =
        kAscFd | (frame.bit_rate_switch ? kAscBitRateSwitch : 0U) | (frame.error_state ? kAscErrorState : 0U);
    // Duration, length in bits, flags, checksum and four words of bit timing; what is not known is 0.
    out += "        0    0 ";
    put_right(hex_number(flags), 8, out);
    out += " 0 0 0 0 0";
  }

  static void put_data(const CanFrame& frame, std::string& out) {
    for (const std::uint8_t byte : frame.data()) (out += ' ') += hex_text(&byte, 1);
  }

  void put_header(TimePoint first, std::string& out) {
    if (begun_) return;
    begun_ = true;
    start_ = std::chrono::floor<std::chrono::seconds>(first);
    const std::string date = asc_date_text(start_);
    out += "date " + date + "\nbase hex  timestamps absolute\nno internal events logged\n";
    out += "Begin Triggerblock " + date + '\n';
    put_right("0.000000", kTimeWidth, out);
    out += " Start of measurement\n";
  }

  /// can<n> is channel n+1; every other bus gets the lowest channel that is free, and a comment that says so.
  std::uint32_t channel_of(const BusName& bus, std::string& out) {
    if (const auto found = channels_.find(bus); found != channels_.end()) return found->second;
    constexpr std::uint32_t kMaxChannel = 255;
    std::uint32_t channel = 0;
    std::string_view text = bus.text();
    if (text.starts_with("can")) {
      text.remove_prefix(3);
      std::uint32_t n = 0;
      const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), n);
      if (error == std::errc{} && end == text.data() + text.size() && n < kMaxChannel &&
          std::to_string(n) == text && !taken_.contains(n + 1))
        channel = n + 1;
    }
    if (channel == 0) {
      for (channel = 1; taken_.contains(channel);) ++channel;
      out += std::string(kAscChannelComment) + std::to_string(channel) + ' ' + std::string(kAscChannelIs) +
             ' ' + std::string(bus.text()) + '\n';
    }
    taken_.insert(channel);
    channels_.emplace(bus, channel);
    return channel;
  }

  bool begun_ = false;
  TimePoint start_{};
  std::map<BusName, std::uint32_t> channels_;
  std::set<std::uint32_t> taken_;
};

}  // namespace

std::unique_ptr<CaptureWriter> make_asc_writer() {
  return std::make_unique<AscWriter>();
}

}  // namespace sumplog
