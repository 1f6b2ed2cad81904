#include "core/asker/bus_budget.h"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace sumplog {
namespace {

// ISO 11898-1: bits of the frame that are stuffed, without the data; the rest is CRC delimiter, ACK, end of
// frame and inter-frame space.
constexpr std::int64_t kStuffedBits = 34;
constexpr std::int64_t kStuffedBitsExtended = 54;
constexpr std::int64_t kPlainBits = 13;
constexpr std::int64_t kBitsBetweenStuffs = 4;  // after the first five equal bits, each fifth is a stuff bit

constexpr std::size_t kFrame = 8;            // classic CAN
constexpr std::size_t kSingleFrameRoom = 7;  // ISO 15765-2: one byte is the length
constexpr std::size_t kFirstFrameRoom = 6;   // two bytes are the length
constexpr std::size_t kConsecutiveRoom = 7;  // one byte is the sequence number
constexpr Duration kBurst = std::chrono::milliseconds{500};
constexpr double kMicrosPerSecond = 1e6;

}  // namespace

std::int64_t longest_frame_bits(bool extended, std::size_t bytes) {
  const std::int64_t stuffed =
      (extended ? kStuffedBitsExtended : kStuffedBits) + 8 * static_cast<std::int64_t>(bytes);
  return stuffed + kPlainBits + (stuffed - 1) / kBitsBetweenStuffs;
}

std::int64_t longest_message_bits(bool extended, std::size_t bytes, bool address) {
  const std::int64_t frame = longest_frame_bits(extended, kFrame);
  const std::size_t taken = address ? 1 : 0;
  if (bytes <= kSingleFrameRoom - taken) return frame;
  const std::size_t rest = bytes - std::min(bytes, kFirstFrameRoom - taken);
  const std::size_t room = kConsecutiveRoom - taken;
  const std::size_t consecutive = (rest + room - 1) / room;
  return frame * (2 + static_cast<std::int64_t>(consecutive));  // first frame and flow control
}

std::int64_t longest_group_bits(std::size_t bytes) {
  constexpr std::size_t kPacketRoom = 7;  // SAE J1939-21: one byte is the number of the packet
  const std::int64_t frame = longest_frame_bits(true, kFrame);
  if (bytes <= kFrame) return frame;
  const auto packets = static_cast<std::int64_t>((bytes + kPacketRoom - 1) / kPacketRoom);
  return frame * (2 + 2 * packets);
}

BusBudget::BusBudget(std::uint32_t bit_rate, double share) : bits_per_second_(bit_rate), share_(share) {
  assert(bit_rate > 0 && share > 0 && share <= 1);
}

void BusBudget::set_bit_rate(std::uint32_t bit_rate) {
  assert(bit_rate > 0);
  bits_per_second_ = bit_rate;
}

void BusBudget::spend(std::int64_t bits, TimePoint at) {
  const double us = std::ceil(static_cast<double>(bits) / (bits_per_second_ * share_) * kMicrosPerSecond);
  paid_at_ = std::max(paid_at_, at) + Duration{static_cast<Duration::rep>(us)};
}

TimePoint BusBudget::free_at() const {
  return paid_at_ == TimePoint::min() ? paid_at_ : paid_at_ - kBurst;
}

}  // namespace sumplog
