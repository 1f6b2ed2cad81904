#include "core/j1939/transport.h"

#include <algorithm>
#include <cassert>
#include <chrono>
#include <span>
#include <string>
#include <utility>

namespace sumplog {
namespace {

// TP.CM, 8 bytes (SAE J1939-21). Control byte | then
//   10 RTS            size u16 LE | packets | most packets per CTS | PGN u24 LE
//   11 CTS            packets wanted, 0 = wait | number of the next | FF FF | PGN
//   13 EndOfMsgACK    size u16 LE | packets | FF | PGN
//   20 BAM            size u16 LE | packets | FF | PGN
//   FF Abort          reason | FF FF FF | PGN
// TP.DT, 8 bytes: number of the packet, 1 first | 7 bytes, FF after the end
constexpr std::uint8_t kControlRts = 16;
constexpr std::uint8_t kControlCts = 17;
constexpr std::uint8_t kControlAcknowledge = 19;
constexpr std::uint8_t kControlBam = 32;
constexpr std::uint8_t kControlAbort = 255;

constexpr std::size_t kFrameBytes =
    8;  // SAE J1939-21: every TP.CM and TP.DT; J1939-82 asks for a check of it
constexpr std::size_t kPacketBytes = 7;     // SAE J1939-21
constexpr std::size_t kSmallestSize = 9;    // bytes; SAE J1939-21: 8 fit one frame
constexpr std::size_t kLargestSize = 1785;  // bytes; SAE J1939-21: 255 packets of 7

constexpr Duration kBroadcastGap = std::chrono::milliseconds{750};  // SAE J1939-21, T1: between packets
constexpr Duration kSessionGap =
    std::chrono::milliseconds{1250};  // SAE J1939-21, T2 and T3: after a CTS or a block

constexpr unsigned kByteBits = 8;
constexpr std::uint8_t kUnused = 0xFF;

// Reasons of an abort: Linux net/can/j1939/transport.c, enum j1939_xtp_abort
constexpr std::uint8_t kAbortResources = 2;
constexpr std::uint8_t kAbortTimeout = 3;
constexpr std::uint8_t kAbortBadSequence = 7;

// Offsets of the layouts above, in bytes.
constexpr std::size_t kSizeAt = 1;
constexpr std::size_t kPacketsAt = 3;
constexpr std::size_t kWantedAt = 1;
constexpr std::size_t kNextAt = 2;
constexpr std::size_t kMostAtOnceAt = 4;
constexpr std::size_t kGroupAt = 5;

std::size_t size_of(std::span<const std::uint8_t> data) {
  return data[kSizeAt] | static_cast<std::size_t>(data[kSizeAt + 1]) << kByteBits;
}
std::uint32_t group_of(std::span<const std::uint8_t> data) {
  std::uint32_t group = 0;
  for (std::size_t i = kFrameBytes; i > kGroupAt; --i) group = group << kByteBits | data[i - 1];
  return group;
}

Duration gap_of(std::uint8_t destination) {
  return destination == kJ1939Global ? kBroadcastGap : kSessionGap;
}

void lose(TransportStep& step, TimePoint at, Endpoint from, std::string_view why, std::uint64_t frames) {
  const std::uint64_t before = step.loss ? step.loss->frames : 0;
  step.loss = TransportLoss{at, from, std::string(why), before + frames};
}

Endpoint sender_of(BusName bus, std::uint32_t group, std::uint8_t source, std::uint8_t destination) {
  return {bus, join_identifier({kJ1939DefaultPriority, group, source, destination}), std::nullopt};
}

/// A frame of ours to the sender of a session, its first bytes given.
CanFrame reply_to(BusName bus, std::uint8_t unit, std::uint32_t group, TimePoint at,
                  std::initializer_list<std::size_t> first) {
  CanFrame frame;
  frame.at = at;
  frame.bus = bus;
  frame.id = join_identifier({kJ1939DefaultPriority, kGroupTransportManagement, kJ1939ServiceTool, unit});
  frame.length = kFrameBytes;
  std::fill_n(frame.bytes.begin(), kFrameBytes, kUnused);
  std::transform(first.begin(), first.end(), frame.bytes.begin(),
                 [](std::size_t byte) { return static_cast<std::uint8_t>(byte); });
  for (std::size_t i = kGroupAt; i < kFrameBytes; ++i, group >>= kByteBits)
    frame.bytes[i] = static_cast<std::uint8_t>(group);
  return frame;
}

}  // namespace

std::optional<Message> single_frame_message(const CanFrame& frame) {
  if (frame.kind != FrameKind::data) return std::nullopt;
  const auto id = split_identifier(frame.id);
  if (!id || id->group == kGroupTransportManagement || id->group == kGroupTransportData) return std::nullopt;
  const auto data = frame.data();
  return Message{
      frame.at, frame.at, {frame.bus, frame.id, std::nullopt}, id->group, {data.begin(), data.end()}};
}

TransportStep J1939Transport::on_frame(const CanFrame& frame) {
  TransportStep step;
  if (frame.kind != FrameKind::data) return step;
  const auto id = split_identifier(frame.id);
  if (!id) return step;
  if (id->group == kGroupTransportManagement) on_management(frame, *id, step);
  if (id->group == kGroupTransportData) on_data(frame, *id, step);
  return step;
}

TransportStep J1939Transport::on_deadline(TimePoint now) {
  TransportStep step;
  const auto next = earliest();
  if (next == transfers_.end() || next->second.until > now) return step;
  const TimePoint due = next->second.until;
  abort(next->first, due, kAbortTimeout, step);
  drop(transfers_.find(next->first), due, kLossJ1939TimedOut, step);
  return step;
}

TransportStep J1939Transport::on_end(TimePoint now) {
  TransportStep step;
  for (auto one = transfers_.begin(); one != transfers_.end(); ++one) {
    if (one->second.delivered) continue;
    drop(one, now, kLossJ1939Unfinished, step);
    break;
  }
  return step;
}

void J1939Transport::on_management(const CanFrame& frame, const J1939Identifier& id, TransportStep& step) {
  const auto data = frame.data();
  const Endpoint from{frame.bus, frame.id, std::nullopt};
  if (data.size() != kFrameBytes) {
    lose(step, frame.at, from, kLossBadManagement, 1);
    return;
  }
  const Key sent{frame.bus, id.source, id.destination};      // the transfer that this unit sends
  const Key received{frame.bus, id.destination, id.source};  // the transfer that this unit receives
  switch (data[0]) {
    case kControlRts:
    case kControlBam: announce(frame, id, step); return;
    case kControlCts: clear_to_send(frame, received, step); return;
    case kControlAcknowledge: {
      expire(received, frame.at, step);
      const auto one = transfers_.find(received);
      if (one == transfers_.end() || one->second.group != group_of(data)) return;
      drop(one, frame.at, kLossPacketsMissing, step);
      return;
    }
    case kControlAbort:
      for (const Key& key : {sent, received}) {
        expire(key, frame.at, step);
        const auto one = transfers_.find(key);
        if (one == transfers_.end() || one->second.group != group_of(data)) continue;
        drop(one, frame.at, kLossAborted, step);
      }
      return;
    default:
      lose(step, frame.at, from, kLossBadManagement, 1);  // a wire value, not an enum: the rest is reserved
  }
}

void J1939Transport::announce(const CanFrame& frame, const J1939Identifier& id, TransportStep& step) {
  const auto data = frame.data();
  const Key key{frame.bus, id.source, id.destination};
  const std::size_t size = size_of(data);
  const std::size_t packets = data[kPacketsAt];
  const bool broadcast = id.destination == kJ1939Global;
  expire(key, frame.at, step);
  if ((data[0] == kControlBam) != broadcast || size < kSmallestSize || size > kLargestSize ||
      packets != (size + kPacketBytes - 1) / kPacketBytes) {
    lose(step, frame.at, {frame.bus, frame.id, std::nullopt}, kLossBadAnnouncement, 1);
    return;
  }
  if (const auto running = transfers_.find(key); running != transfers_.end()) {
    drop(running, frame.at, kLossReannounced, step);
  }
  if (transfers_.size() >= kMaxTransfers) {
    const auto idle = std::find_if(transfers_.begin(), transfers_.end(),
                                   [](const auto& one) { return one.second.delivered; });
    if (idle == transfers_.end()) {
      lose(step, frame.at, {frame.bus, frame.id, std::nullopt}, kLossTooManyTransfers, 1);
      if (id.destination == kJ1939ServiceTool)
        step.reply =
            reply_to(frame.bus, id.source, group_of(data), frame.at, {kControlAbort, kAbortResources});
      return;
    }
    transfers_.erase(idle);
  }
  Transfer transfer;
  transfer.group = group_of(data);
  transfer.size = size;
  transfer.packets = packets;
  transfer.first_at = frame.at;
  transfer.until = frame.at + gap_of(id.destination);
  transfer.frames = 1;
  transfer.at_once = std::max<std::size_t>(data[kMostAtOnceAt], 1);
  const auto stored = transfers_.emplace(key, std::move(transfer)).first;
  step.receiving = sender_of(key.bus, stored->second.group, key.source, key.destination);
  grant(stored, frame.at, step);
}

/// In a session with us: more packets are asked for when all that were granted have come.
void J1939Transport::grant(Transfers::iterator one, TimePoint at, TransportStep& step) const {
  auto& [key, transfer] = *one;
  if (key.destination != kJ1939ServiceTool || transfer.next <= transfer.granted) return;
  const std::size_t count = std::min(transfer.at_once, transfer.packets + 1 - transfer.next);
  transfer.granted = transfer.next + count - 1;
  step.reply = reply_to(key.bus, key.source, transfer.group, at, {kControlCts, count, transfer.next});
}

void J1939Transport::abort(const Key& key, TimePoint at, std::uint8_t reason, TransportStep& step) const {
  const auto one = transfers_.find(key);
  assert(one != transfers_.end() && !one->second.delivered && "only a transfer that runs is aborted");
  if (key.destination != kJ1939ServiceTool) return;
  step.reply = reply_to(key.bus, key.source, one->second.group, at, {kControlAbort, reason});
}

void J1939Transport::clear_to_send(const CanFrame& frame, const Key& key, TransportStep& step) {
  const auto data = frame.data();
  expire(key, frame.at, step);
  const auto found = transfers_.find(key);
  if (found == transfers_.end() || found->second.group != group_of(data)) return;
  Transfer& transfer = found->second;
  transfer.until = frame.at + kSessionGap;
  const std::size_t wanted = data[kWantedAt];
  const std::size_t next = data[kNextAt];
  if (wanted == 0 || next == 0 || transfer.delivered) return;
  if (next > transfer.next) {
    drop(found, frame.at, kLossPacketsMissing, step);  // the addressee has packets that were not heard here
    return;
  }
  // Packets are asked for again: what was heard of them is replaced.
  transfer.next = next;
  transfer.payload.resize((next - 1) * kPacketBytes);
}

void J1939Transport::on_data(const CanFrame& frame, const J1939Identifier& id, TransportStep& step) {
  const auto data = frame.data();
  const Key key{frame.bus, id.source, id.destination};
  expire(key, frame.at, step);
  const auto found = transfers_.find(key);
  if (found == transfers_.end()) {
    lose(step, frame.at, {frame.bus, frame.id, std::nullopt}, kLossNoTransfer, 1);
    return;
  }
  Transfer& transfer = found->second;
  if (transfer.delivered) return;  // sent again to an addressee that missed it
  ++transfer.frames;
  if (data.size() != kFrameBytes) {
    abort(key, frame.at, kAbortBadSequence, step);
    drop(found, frame.at, kLossPacketLength, step);
    return;
  }
  if (data[0] != transfer.next) {
    abort(key, frame.at, kAbortBadSequence, step);
    drop(found, frame.at, kLossPacketOrder, step);
    return;
  }
  const std::size_t count = std::min(kPacketBytes, transfer.size - transfer.payload.size());
  const auto payload = data.subspan(1, count);
  transfer.payload.insert(transfer.payload.end(), payload.begin(), payload.end());
  transfer.until = frame.at + gap_of(id.destination);
  if (transfer.next++ < transfer.packets) {
    step.receiving = sender_of(key.bus, transfer.group, key.source, key.destination);
    grant(found, frame.at, step);
    return;
  }
  if (id.destination == kJ1939ServiceTool)
    step.reply =
        reply_to(frame.bus, id.source, transfer.group, frame.at,
                 {kControlAcknowledge, transfer.size & 0xFF, transfer.size >> kByteBits, transfer.packets});
  step.message =
      Message{frame.at, transfer.first_at, sender_of(frame.bus, transfer.group, id.source, id.destination),
              transfer.group, std::move(transfer.payload)};
  if (id.destination == kJ1939Global) {
    transfers_.erase(found);
  } else {
    transfer.payload = {};
    transfer.delivered = true;
  }
}

void J1939Transport::expire(const Key& key, TimePoint at, TransportStep& step) {
  const auto one = transfers_.find(key);
  if (one == transfers_.end() || one->second.until > at) return;
  const TimePoint due = one->second.until;
  drop(one, due, kLossJ1939TimedOut, step);
}

void J1939Transport::drop(Transfers::iterator one, TimePoint at, std::string_view why, TransportStep& step) {
  const auto& [key, transfer] = *one;
  if (!transfer.delivered) {
    lose(step, at, sender_of(key.bus, transfer.group, key.source, key.destination), why, transfer.frames);
  }
  transfers_.erase(one);
}

J1939Transport::Transfers::const_iterator J1939Transport::earliest() const {
  auto first = transfers_.end();
  for (auto one = transfers_.begin(); one != transfers_.end(); ++one) {
    if (one->second.delivered) continue;
    if (first == transfers_.end() || one->second.until < first->second.until) first = one;
  }
  return first;
}

}  // namespace sumplog
