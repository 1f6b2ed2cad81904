#include "core/isotp/sender.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <stdexcept>

namespace sumplog {
namespace {

constexpr unsigned kByteBits = 8;

std::uint8_t byte_of(std::size_t value, unsigned index) {
  return static_cast<std::uint8_t>(value >> (index * kByteBits));
}

}  // namespace

Sender::Sender(const SenderConfig& config) : config_(config) {
  const bool known =
      std::find(kFullLengths.begin(), kFullLengths.end(), config_.frame_length) != kFullLengths.end();
  if (!known || (config_.frame_length > kClassicLength && !config_.fd)) {
    throw std::invalid_argument("frame length must be 8, or with CAN FD 8, 12, 16, 20, 24, 32, 48 or 64");
  }
}

SenderStep Sender::start(std::span<const std::uint8_t> payload, TimePoint now) {
  assert(idle() && !payload.empty());
  payload_.assign(payload.begin(), payload.end());
  sent_ = 0;
  const std::size_t at = address_bytes();
  const std::size_t size = payload.size();
  SenderStep step;
  if (at + kSinglePciBytes + size <= kClassicLength) {
    const std::array<std::uint8_t, kSinglePciBytes> pci{static_cast<std::uint8_t>(kPciSingle | size)};
    step.frame = frame_of(pci, size, now);
    step.ended = end(SendResult::sent).ended;
    return step;
  }
  if (config_.frame_length > kClassicLength && at + kSingleEscapeBytes + size <= config_.frame_length) {
    const std::array<std::uint8_t, kSingleEscapeBytes> pci{kPciSingle, byte_of(size, 0)};
    step.frame = frame_of(pci, size, now);
    step.ended = end(SendResult::sent).ended;
    return step;
  }
  if (size <= kMaxShortFirst) {
    const std::array<std::uint8_t, kFirstPciBytes> pci{
        static_cast<std::uint8_t>(kPciFirst | byte_of(size, 1)), byte_of(size, 0)};
    step.frame = frame_of(pci, config_.frame_length - at - pci.size(), now);
  } else {
    const std::array<std::uint8_t, kFirstEscapeBytes> pci{
        kPciFirst, 0, byte_of(size, 3), byte_of(size, 2), byte_of(size, 1), byte_of(size, 0)};
    step.frame = frame_of(pci, config_.frame_length - at - pci.size(), now);
  }
  state_ = State::awaiting_flow_control;
  deadline_ = now + kNBs;
  sequence_ = 1;
  parameters_known_ = false;
  in_block_ = 0;
  waits_ = 0;
  return step;
}

SenderStep Sender::on_frame(const CanFrame& frame) {
  const Endpoint& peer = config_.flow_control_from;
  if (state_ != State::awaiting_flow_control || frame.kind != FrameKind::data || frame.bus != peer.bus ||
      frame.id != peer.id) {
    return {};
  }
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t at = peer.address ? 1 : 0;
  if (data.size() <= at || (peer.address && data[0] != *peer.address)) return {};
  if ((data[at] & kPciTypeMask) != kPciFlowControl) return {};
  if (data.size() < at + kFlowControlBytes) return end(SendResult::bad_flow_status);
  switch (data[at] & kPciLowMask) {
    case kFlowContinue:
      if (!parameters_known_) {
        parameters_known_ = true;
        block_size_ = data[at + 1];
        separation_ = separation_time(data[at + 2]);
      }
      waits_ = 0;
      in_block_ = 0;
      state_ = State::sending;
      deadline_ = frame.at;
      return {};
    case kFlowWait:
      if (waits_ == config_.max_waits) return end(SendResult::too_many_waits);
      ++waits_;
      deadline_ = frame.at + kNBs;
      return {};
    case kFlowOverflow: return end(SendResult::overflow);
    default: return end(SendResult::bad_flow_status);  // a wire value, not an enum: 3…F are reserved
  }
}

SenderStep Sender::on_deadline(TimePoint now) {
  if (!deadline_ || *deadline_ > now) return {};
  if (state_ == State::awaiting_flow_control) return end(SendResult::no_flow_control);
  const std::array<std::uint8_t, kConsecutivePciBytes> pci{
      static_cast<std::uint8_t>(kPciConsecutive | sequence_)};
  const std::size_t room = config_.frame_length - address_bytes() - pci.size();
  SenderStep step;
  step.frame = frame_of(pci, std::min(room, payload_.size() - sent_), now);
  sequence_ = static_cast<std::uint8_t>((sequence_ + 1) % kSequenceModulus);
  if (sent_ == payload_.size()) {
    step.ended = end(SendResult::sent).ended;
  } else if (block_size_ != 0 && ++in_block_ == block_size_) {
    state_ = State::awaiting_flow_control;
    deadline_ = now + kNBs;
  } else {
    deadline_ = now + separation_;
  }
  return step;
}

CanFrame Sender::frame_of(std::span<const std::uint8_t> pci, std::size_t count, TimePoint now) {
  CanFrame frame;
  frame.at = now;
  frame.bus = config_.from.bus;
  frame.id = config_.from.id;
  frame.fd = config_.fd;
  frame.bit_rate_switch = config_.fd && config_.bit_rate_switch;
  std::size_t used = 0;
  if (config_.from.address) frame.bytes[used++] = *config_.from.address;
  for (const std::uint8_t byte : pci) frame.bytes[used++] = byte;
  std::copy_n(payload_.begin() + static_cast<std::ptrdiff_t>(sent_), count,
              frame.bytes.begin() + static_cast<std::ptrdiff_t>(used));
  used += count;
  sent_ += count;
  const bool padded = used > kClassicLength || config_.padding;
  const std::size_t length = padded ? full_length(used) : used;
  std::fill(frame.bytes.begin() + static_cast<std::ptrdiff_t>(used),
            frame.bytes.begin() + static_cast<std::ptrdiff_t>(length),
            config_.padding.value_or(kPaddingByte));
  frame.length = static_cast<std::uint8_t>(length);
  return frame;
}

SenderStep Sender::end(SendResult result) {
  state_ = State::idle;
  deadline_.reset();
  payload_.clear();
  return {std::nullopt, result};
}

}  // namespace sumplog
