#include "core/redact/frame_trace.h"

#include <algorithm>
#include <utility>

#include "core/isotp/pci.h"
#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"

namespace sumplog {
namespace {

// SAE J1939-21, TP.CM: control byte, size (low byte first), …, PGN in the last three bytes; TP.DT: number, 7 bytes.
constexpr std::uint8_t kControlRts = 16;
constexpr std::uint8_t kControlBam = 32;
constexpr std::size_t kPacketBytes = 7;
constexpr std::size_t kGroupAt = 5;
constexpr std::size_t kManagementBytes = 8;

/// Appends the bytes of a frame from `begin` on, as far as the message goes.
void append(TracedMessage& message, std::size_t expected, std::uint64_t index, const CanFrame& frame,
            std::size_t begin) {
  const auto data = frame.data();
  for (std::size_t at = begin; at < data.size() && message.payload.size() < expected; ++at) {
    message.payload.push_back(data[at]);
    message.places.push_back({index, static_cast<std::uint8_t>(at)});
  }
}

}  // namespace

FrameTrace::FrameTrace(AddressBook book) : book_(std::move(book)) {}

void FrameTrace::on_frame(std::uint64_t index, const CanFrame& frame, std::vector<TracedMessage>& out) {
  if (frame.kind != FrameKind::data) return;
  if (const auto addressing = book_.classify(frame.id))
    on_diagnostic(index, frame, *addressing, out);
  else if (const auto id = split_identifier(frame.id))
    on_group_frame(index, frame, *id, out);
}

void FrameTrace::on_diagnostic(std::uint64_t index, const CanFrame& frame, const Addressing& addressing,
                               std::vector<TracedMessage>& out) {
  const auto data = frame.data();
  const std::size_t pci = addressing.mode == AddressingMode::normal ? 0 : 1;
  if (data.size() <= pci) return;
  Endpoint from{frame.bus, frame.id, std::nullopt};
  if (pci == 1) from.address = data[0];
  const auto begin = [&](std::size_t expected, std::size_t header) {
    Transfer transfer;
    transfer.message.from = from;
    transfer.message.is_request = addressing.role != Role::response;
    transfer.expected = expected;
    transfer.frame_length = data.size();
    append(transfer.message, expected, index, frame, pci + header);
    return transfer;
  };
  const auto running = transfers_.find(from);
  const auto give_up = [&] {
    if (running == transfers_.end()) return;
    out.push_back(std::move(running->second.message));
    transfers_.erase(running);
  };
  const std::size_t low = data[pci] & std::size_t{kPciLowMask};
  switch (data[pci] & kPciTypeMask) {
    case kPciSingle: {
      const bool escape = data.size() > kClassicLength;
      const std::size_t length = escape ? data[pci + 1] : low;
      give_up();
      out.push_back(begin(length, escape ? kSingleEscapeBytes : kSinglePciBytes).message);
      return;
    }
    case kPciFirst: {
      if (data.size() < pci + kFirstPciBytes) return;
      std::size_t expected = low << 8 | data[pci + 1];
      std::size_t header = kFirstPciBytes;
      if (expected == 0 && data.size() >= pci + kFirstEscapeBytes) {
        for (std::size_t i = kFirstPciBytes; i < kFirstEscapeBytes; ++i)
          expected = expected << 8 | data[pci + i];
        header = kFirstEscapeBytes;
      }
      // A message of no length is none: what follows of it has no beginning.
      if (expected == 0) return;
      give_up();
      transfers_[from] = begin(expected, header);
      return;
    }
    case kPciConsecutive: {
      if (running == transfers_.end()) {
        TracedMessage orphan = begin(data.size(), kConsecutivePciBytes).message;
        orphan.orphan = true;
        out.push_back(std::move(orphan));
        return;
      }
      Transfer& transfer = running->second;
      append(transfer.message, transfer.expected, index, frame, pci + kConsecutivePciBytes);
      const std::size_t left = transfer.expected - transfer.message.payload.size();
      const bool in_order = low == transfer.next && data.size() <= transfer.frame_length;
      transfer.next = static_cast<std::uint8_t>((transfer.next + 1) % kSequenceModulus);
      // A frame out of order ends the transfer (ISO 15765-2); its bytes are kept with those before it.
      if (!in_order || left == 0) give_up();
      return;
    }
    default: return;  // flow control carries no payload; the reserved types are no transport
  }
}

void FrameTrace::on_group_frame(std::uint64_t index, const CanFrame& frame, const J1939Identifier& id,
                                std::vector<TracedMessage>& out) {
  const auto data = frame.data();
  if (data.empty()) return;
  const Session session{frame.bus, id.source, id.destination};
  const auto running = sessions_.find(session);
  const auto give_up = [&] {
    if (running == sessions_.end()) return;
    out.push_back(std::move(running->second.message));
    sessions_.erase(running);
  };
  TracedMessage message;
  message.from = {frame.bus, frame.id, std::nullopt};
  if (id.group == kGroupTransportManagement) {
    if (data.size() < kManagementBytes || (data[0] != kControlRts && data[0] != kControlBam)) return;
    give_up();
    Transfer transfer;
    transfer.message = std::move(message);
    std::uint32_t group = 0;
    for (std::size_t i = kManagementBytes; i > kGroupAt; --i) group = group << 8 | data[i - 1];
    transfer.message.group = group;
    transfer.expected = data[1] | static_cast<std::size_t>(data[2]) << 8;
    sessions_[session] = std::move(transfer);
    return;
  }
  if (id.group != kGroupTransportData) {
    message.group = id.group;
    append(message, data.size(), index, frame, 0);
    out.push_back(std::move(message));
    return;
  }
  if (running == sessions_.end()) {
    message.orphan = true;
    append(message, kPacketBytes, index, frame, 1);
    out.push_back(std::move(message));
    return;
  }
  Transfer& transfer = running->second;
  // A packet that is sent again (asked for in a session) is a piece of the same text: it is kept where it belongs to nothing.
  const bool again = data[0] != transfer.next;
  if (again) {
    message.orphan = true;
    message.group = transfer.message.group;
    append(message, kPacketBytes, index, frame, 1);
    out.push_back(std::move(message));
    return;
  }
  append(transfer.message, transfer.expected, index, frame, 1);
  ++transfer.next;
  if (transfer.message.payload.size() < transfer.expected) return;
  give_up();
}

void FrameTrace::on_end(std::vector<TracedMessage>& out) {
  for (auto& [from, transfer] : transfers_) out.push_back(std::move(transfer.message));
  for (auto& [session, transfer] : sessions_) out.push_back(std::move(transfer.message));
  transfers_.clear();
  sessions_.clear();
}

}  // namespace sumplog
