#pragma once
#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "core/isotp/message.h"
#include "core/item/frame.h"
#include "fuzz/feed.h"

namespace sumplog::fuzz {

constexpr TimePoint kFirstFrame = at_micros(1700000000000000);

/// How far apart two frames are: around every time limit of the transports.
inline Duration gap(std::uint8_t choice) {
  constexpr std::array<std::int64_t, 16> kMicros{
      0,       1,       1'000,     5'000,     20'000,    99'999,    200'000,    500'000,
      749'999, 999'999, 1'000'000, 1'250'001, 3'000'000, 5'050'000, -1'000'000, 60'000'000};
  return Duration{kMicros[choice % kMicros.size()]};
}

/// Data of a frame: byte 0 says how long (0…8, or a length of CAN FD), then the bytes.
inline void set_data_from(Feed& feed, CanFrame& frame) {
  constexpr std::array<std::uint8_t, 7> kLong{12, 16, 20, 24, 32, 48, 64};
  const std::uint8_t choice = feed.byte();
  std::size_t length = choice % 16;
  if (length > 8) {
    frame.fd = true;
    length = kLong[length - 9];
  }
  frame.set_data(feed.bytes(length));
  frame.length = static_cast<std::uint8_t>(length);  // behind the end of the input come zeros
}

/// The bytes of a message were all heard, in this order: nothing is invented.
class HeardBytes {
 public:
  void hear(const CanFrame& frame) {
    for (const std::uint8_t byte : frame.data()) heard_.push_back({frame.at, byte});
  }
  void require_heard(const Message& message) const {
    require(message.first_at <= message.at, "a message ends before it begins");
    auto at = std::find_if(heard_.begin(), heard_.end(),
                           [&](const auto& one) { return one.first >= message.first_at; });
    for (const std::uint8_t byte : message.payload) {
      at = std::find_if(at, heard_.end(), [&](const auto& one) { return one.second == byte; });
      require(at != heard_.end(), "a message has a byte that nobody sent");
      ++at;
    }
  }

 private:
  std::vector<std::pair<TimePoint, std::uint8_t>> heard_;
};

}  // namespace sumplog::fuzz
