#include "core/guard/group_watch.h"

#include <algorithm>

namespace sumplog {
namespace {

// Linux net/can/j1939/transport.c: a receiver of an RTS session gives up after 1250 ms (J1939-21 T2, T3). The
// same time bounds how late an answer to a request may begin.
constexpr Duration kSessionIdle = std::chrono::milliseconds{1250};

// offset | size | name                          J1939-21 TP.CM
// 0      | 1    | control: 10 RTS, 11 CTS, 13 end of message, FF abort (hex)
// 1      | 4    | RTS: size (2, little endian), packets, most packets for one CTS
//        |      | CTS: packets granted, next packet, FF, FF
//        |      | end: size (2), packets, FF     abort: reason, FF, FF, FF
// 5      | 3    | PGN of the group that is carried, little endian
constexpr std::uint8_t kRts = 0x10;
constexpr std::uint8_t kCts = 0x11;
constexpr std::uint8_t kEndOfMessage = 0x13;
constexpr std::uint8_t kAbort = 0xFF;
constexpr std::uint8_t kUnused = 0xFF;
constexpr std::size_t kControlLength = 8;
constexpr std::uint8_t kFirstReason = 1;  // J1939-21 abort reasons 1…8 (9 later): busy, resources, timeout, …
constexpr std::uint8_t kLastReason = 9;
constexpr unsigned kBytesPerPacket = 7;   // J1939-21 TP.DT
constexpr unsigned kShortest = 9;         // J1939-21: what fits eight bytes is never carried
constexpr unsigned kGrantsPerPacket = 2;  // ours: once, and once more where a packet was lost

constexpr std::uint32_t kNoPriority = 0x03FFFF00;  // keeps data page, PDU format and destination
constexpr std::uint32_t kTransportToUs = 0x00EC0000 | kOurJ1939Address << 8;
constexpr std::uint32_t kDataToUs = 0x00EB0000 | kOurJ1939Address << 8;

std::uint32_t group_in(std::span<const std::uint8_t> bytes) {
  return static_cast<std::uint32_t>(bytes[5] | bytes[6] << 8 | bytes[7] << 16);
}

}  // namespace

void GroupWatch::on_own_request(BusName bus, std::uint8_t destination, std::uint32_t pgn, TimePoint at) {
  std::erase_if(asked_, [at](const auto& one) { return at - one.second > kSessionIdle; });
  std::erase_if(sessions_, [at](const auto& one) { return at - one.second.last_at > kSessionIdle; });
  asked_[{{bus, destination}, pgn}] = at;
}

void GroupWatch::on_frame(const CanFrame& frame) {
  if (!frame.id.extended) return;
  const Peer peer{frame.bus, static_cast<std::uint8_t>(frame.id.value)};
  const std::uint32_t what = frame.id.value & kNoPriority;
  if (what == kDataToUs) {
    const auto found = sessions_.find(peer);
    if (found != sessions_.end()) found->second.last_at = frame.at;
    return;
  }
  const auto bytes = frame.data();
  if (what != kTransportToUs || bytes.size() != kControlLength) return;
  if (bytes[0] == kAbort) sessions_.erase(peer);
  if (bytes[0] != kRts) return;
  const std::uint32_t pgn = group_in(bytes);
  const bool asked = std::any_of(asked_.begin(), asked_.end(), [&](const auto& one) {
    const auto& [who, when] = one;
    return who.first.first == frame.bus &&
           (who.first.second == peer.second || who.first.second == kGlobalAddress) && who.second == pgn &&
           frame.at - when <= kSessionIdle;
  });
  const auto size = static_cast<std::uint16_t>(bytes[1] | bytes[2] << 8);
  const std::uint8_t packets = bytes[3];
  // One byte counts the packets: no more than 255 of them, 1785 bytes, are sound.
  const bool sound =
      size >= kShortest && packets == (size + kBytesPerPacket - 1) / kBytesPerPacket && bytes[4] > 0;
  sessions_.erase(peer);
  if (asked && sound)
    sessions_[peer] = Session{pgn, size, packets, bytes[4], kGrantsPerPacket * packets, frame.at};
}

Result<GroupWatch::ControlBytes, GuardRefusal> GroupWatch::control(BusName bus, std::uint8_t destination,
                                                                   std::span<const std::uint8_t> proposed,
                                                                   TimePoint now) {
  if (proposed.size() != kControlLength) return tl::unexpected(GuardRefusal::flow_control_not_listed);
  const auto found = sessions_.find({bus, destination});
  if (found == sessions_.end() || now - found->second.last_at > kSessionIdle ||
      group_in(proposed) != found->second.pgn)
    return tl::unexpected(GuardRefusal::no_own_request);
  auto& session = found->second;
  ControlBytes bytes{};
  bytes.fill(kUnused);
  bytes[0] = proposed[0];
  bytes[5] = static_cast<std::uint8_t>(session.pgn);
  bytes[6] = static_cast<std::uint8_t>(session.pgn >> 8);
  bytes[7] = static_cast<std::uint8_t>(session.pgn >> 16);
  if (proposed[0] == kCts) {
    const unsigned count = proposed[1];
    const unsigned next = proposed[2];
    // A CTS for no packets holds the sender's connection: like a wait frame, it is never sent.
    if (count == 0 || count > session.most_at_once || next == 0 || next + count - 1 > session.packets ||
        session.grants_left == 0)
      return tl::unexpected(GuardRefusal::flow_control_not_listed);
    --session.grants_left;
    bytes[1] = proposed[1];
    bytes[2] = proposed[2];
    return bytes;
  }
  if (proposed[0] == kEndOfMessage) {
    bytes[1] = static_cast<std::uint8_t>(session.size);
    bytes[2] = static_cast<std::uint8_t>(session.size >> 8);
    bytes[3] = session.packets;
    sessions_.erase(found);
    return bytes;
  }
  if (proposed[0] == kAbort && proposed[1] >= kFirstReason && proposed[1] <= kLastReason) {
    bytes[1] = proposed[1];
    sessions_.erase(found);
    return bytes;
  }
  return tl::unexpected(GuardRefusal::flow_control_not_listed);
}

}  // namespace sumplog
