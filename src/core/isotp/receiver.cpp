#include "core/isotp/receiver.h"

#include <algorithm>
#include <iterator>
#include <span>
#include <string>
#include <utility>

#include "core/isotp/loss.h"
#include "core/isotp/pci.h"

namespace sumplog {
namespace {

/// Smallest SF_DL that a frame above 8 bytes may carry: one more than what the next shorter frame holds.
/// in   length 9…64, address_bytes 0…1
/// src  ISO 15765-2:2016, SF_DL minimum by CAN_DL (from memory; 12: 8, 16: 11, … 64: 47 with normal
/// addressing)
std::size_t smallest_long_single(std::size_t length, std::size_t address_bytes) {
  const auto* const own = std::lower_bound(kFullLengths.begin(), kFullLengths.end(), full_length(length));
  const std::size_t shorter = *std::prev(own);
  const std::size_t pci = shorter == kClassicLength ? kSinglePciBytes : kSingleEscapeBytes;
  return shorter - address_bytes - pci + 1;
}

// Bytes that are made room for at once, if a first frame claims as many; more of them grow with the data that comes.
constexpr std::size_t kUsualMessage = 256;

/// Smallest FF_DL: one more than what a single frame of the same length holds.
/// src  ISO 15765-2:2016, FF_DL minimum (8, 7 with an address byte; above 8 bytes RX_DL - 1, RX_DL - 2)
std::size_t smallest_first(std::size_t length, std::size_t address_bytes) {
  const std::size_t pci = length == kClassicLength ? kSinglePciBytes : kSingleEscapeBytes;
  return length - address_bytes - pci + 1;
}

}  // namespace

Receiver::Receiver(const ReceiverConfig& config) : config_(config) {}

TransportStep Receiver::on_frame(const CanFrame& frame) {
  TransportStep step;
  if (frame.kind != FrameKind::data || frame.bus != config_.from.bus || frame.id != config_.from.id)
    return step;
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t at = address_bytes();
  if (config_.from.address && !data.empty() && data[0] != *config_.from.address) return step;
  if (deadline_ && *deadline_ <= frame.at) abandon(step, *deadline_, kLossTimedOut);
  if (data.size() <= at) {
    lose(step, frame.at, kLossNoControl, 1);
    return step;
  }
  switch (data[at] & kPciTypeMask) {
    case kPciSingle: on_single(frame, step); break;
    case kPciFirst: on_first(frame, step); break;
    case kPciConsecutive: on_consecutive(frame, step); break;
    case kPciFlowControl: on_flow_control(frame, step); break;
    default: lose(step, frame.at, kLossReservedType, 1);  // a wire value, not an enum: 4…F are reserved
  }
  return step;
}

TransportStep Receiver::on_deadline(TimePoint now) {
  TransportStep step;
  if (deadline_ && *deadline_ <= now) abandon(step, *deadline_, kLossTimedOut);
  return step;
}

TransportStep Receiver::on_end(TimePoint now) {
  TransportStep step;
  if (receiving()) abandon(step, now, kLossUnfinished);
  return step;
}

void Receiver::on_single(const CanFrame& frame, TransportStep& step) {
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t at = address_bytes();
  const std::size_t low = data[at] & kPciLowMask;
  std::size_t length = low;
  std::size_t begin = at + kSinglePciBytes;
  bool possible = length > 0;
  if (data.size() > kClassicLength) {
    // On a long frame the short form would be ambiguous: the standard leaves it to the escape alone.
    length = data[at + 1];
    begin = at + kSingleEscapeBytes;
    possible = low == 0 && length >= smallest_long_single(data.size(), at);
  }
  if (!possible || begin + length > data.size()) {
    lose(step, frame.at, kLossSingleLength, 1);
    return;
  }
  if (receiving()) abandon(step, frame.at, kLossInterrupted);
  const auto payload = data.subspan(begin, length);
  step.message = Message{frame.at, frame.at, config_.from, std::nullopt, {payload.begin(), payload.end()}};
}

void Receiver::on_first(const CanFrame& frame, TransportStep& step) {
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t at = address_bytes();
  if (config_.functional) {
    lose(step, frame.at, kLossFirstFunctional, 1);
    return;
  }
  if (std::find(kFullLengths.begin(), kFullLengths.end(), data.size()) == kFullLengths.end()) {
    lose(step, frame.at, kLossFirstNotFull, 1);
    return;
  }
  std::size_t length = (data[at] & std::size_t{kPciLowMask}) << 8 | data[at + 1];
  std::size_t begin = at + kFirstPciBytes;
  std::size_t smallest = smallest_first(data.size(), at);
  if (length == 0) {
    for (std::size_t i = kFirstPciBytes; i < kFirstEscapeBytes; ++i) length = length << 8 | data[at + i];
    begin = at + kFirstEscapeBytes;
    smallest = kMaxShortFirst + 1;  // ISO 15765-2:2016: the escape is for longer messages alone (from memory)
  }
  if (length < smallest) {
    lose(step, frame.at, kLossFirstTooSmall, 1);
    return;
  }
  if (length > config_.max_message) {
    lose(step, frame.at, kLossFirstTooLarge, 1 + std::exchange(frames_, 0));
    deadline_.reset();
    payload_.clear();
    step.reply = flow_control(frame, kFlowOverflow);
    return;
  }
  if (receiving()) abandon(step, frame.at, kLossInterrupted);
  first_at_ = frame.at;
  deadline_ = frame.at + kNCr;
  expected_ = length;
  frame_length_ = data.size();
  sequence_ = 1;
  in_block_ = 0;
  frames_ = 1;
  const auto payload = data.subspan(begin);
  payload_.reserve(std::min(length, kUsualMessage));
  payload_.assign(payload.begin(), payload.end());
  step.reply = flow_control(frame, kFlowContinue);
}

void Receiver::on_consecutive(const CanFrame& frame, TransportStep& step) {
  if (!receiving()) {
    lose(step, frame.at, kLossNoFirst, 1);
    return;
  }
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t begin = address_bytes() + kConsecutivePciBytes;
  const std::size_t left = expected_ - payload_.size();
  const bool last = begin + left <= frame_length_;
  const std::size_t shortest = last ? begin + left : frame_length_;
  if (data.size() < shortest || data.size() > frame_length_) {
    lose(step, frame.at, kLossConsecutiveLength, 1);
    return;
  }
  ++frames_;
  if ((data[address_bytes()] & kPciLowMask) != sequence_) {
    abandon(step, frame.at, kLossOutOfOrder);
    return;
  }
  const auto payload = data.subspan(begin, std::min(left, data.size() - begin));
  payload_.insert(payload_.end(), payload.begin(), payload.end());
  if (last) {
    deadline_.reset();
    frames_ = 0;
    step.message = Message{frame.at, first_at_, config_.from, std::nullopt, std::exchange(payload_, {})};
    return;
  }
  sequence_ = static_cast<std::uint8_t>((sequence_ + 1) % kSequenceModulus);
  deadline_ = frame.at + kNCr;
  if (config_.block_size != 0 && ++in_block_ == config_.block_size) {
    in_block_ = 0;
    step.reply = flow_control(frame, kFlowContinue);
  }
}

void Receiver::on_flow_control(const CanFrame& frame, TransportStep& step) {
  // It steers the other direction and carries no payload: nothing is lost with one that can be read.
  const std::span<const std::uint8_t> data = frame.data();
  const std::size_t at = address_bytes();
  if (data.size() < at + kFlowControlBytes || (data[at] & kPciLowMask) > kFlowOverflow) {
    lose(step, frame.at, kLossFlowControl, 1);
  }
}

void Receiver::lose(TransportStep& step, TimePoint at, std::string_view why, std::uint64_t frames) const {
  const std::uint64_t before = step.loss ? step.loss->frames : 0;
  step.loss = TransportLoss{at, config_.from, std::string(why), before + frames};
}

void Receiver::abandon(TransportStep& step, TimePoint at, std::string_view why) {
  lose(step, at, why, std::exchange(frames_, 0));
  deadline_.reset();
  payload_.clear();
}

std::optional<CanFrame> Receiver::flow_control(const CanFrame& cause, std::uint8_t status) const {
  if (!config_.reply_to) return std::nullopt;
  CanFrame reply;
  reply.at = cause.at;
  reply.bus = config_.reply_to->bus;
  reply.id = config_.reply_to->id;
  reply.fd = cause.fd;
  reply.bit_rate_switch = cause.bit_rate_switch;
  reply.length = kClassicLength;
  std::fill_n(reply.bytes.begin(), reply.length, kPaddingByte);
  std::size_t at = 0;
  if (config_.reply_to->address) reply.bytes[at++] = *config_.reply_to->address;
  const bool goes_on = status == kFlowContinue;
  reply.bytes[at++] = kPciFlowControl | status;
  reply.bytes[at++] = goes_on ? config_.block_size : std::uint8_t{0};
  reply.bytes[at] = goes_on ? config_.st_min : std::uint8_t{0};
  return reply;
}

}  // namespace sumplog
