#pragma once
#include <compare>
#include <cstdint>
#include <optional>

#include "core/item/frame.h"

namespace sumplog {

// The 29 bits of a J1939 identifier, most significant first (SAE J1939-21):
//   bit    | size | name
//   28…26  | 3    | priority, 0 highest
//   25     | 1    | EDP, extended data page
//   24     | 1    | DP, data page
//   23…16  | 8    | PF, PDU format: below 240 the message has one addressee (PDU1), else it is for all (PDU2)
//   15…8   | 8    | PS: PDU1 the destination address, PDU2 the group extension, part of the PGN
//   7…0    | 8    | SA, source address

inline constexpr std::uint8_t kJ1939Global = 255;         // SAE J1939-21, destination "all"
inline constexpr std::uint8_t kJ1939Null = 254;           // SAE J1939-81, no address claimed
inline constexpr std::uint8_t kJ1939ServiceTool = 249;    // SAE J1939, off-board diagnostic service tool 1
inline constexpr std::uint8_t kJ1939DefaultPriority = 6;  // SAE J1939-21, information, request, acknowledge
inline constexpr std::uint32_t kAddressClaimed = 0xEE00;  // SAE J1939-81, the answer to a request for it
inline constexpr std::uint32_t kFirstPdu2Format = 240;    // SAE J1939-21, PF of the first PDU2 group

/// Source address of the unit that sends under a frame identifier.
/// src  SAE J1939-21, the lowest byte
[[nodiscard]] constexpr std::uint8_t source_address(CanId id) {
  return static_cast<std::uint8_t>(id.value & 0xFFU);
}

struct J1939Identifier {
  std::uint8_t priority = kJ1939DefaultPriority;  ///< 0…7
  std::uint32_t group = 0;                        ///< PGN, 18 bits; the low byte is 0 for PDU1
  std::uint8_t source = kJ1939Null;
  std::uint8_t destination = kJ1939Global;  ///< PDU2 is always for all
  friend constexpr auto operator<=>(const J1939Identifier&, const J1939Identifier&) = default;
};

/// True when messages of the group have one addressee.
/// src  SAE J1939-21, PDU1 format
[[nodiscard]] constexpr bool has_destination(std::uint32_t group) {
  constexpr unsigned kFormatShift = 8;
  constexpr std::uint32_t kByteMask = 0xFF;
  return (group >> kFormatShift & kByteMask) < kFirstPdu2Format;
}

/// Takes an identifier apart. Nothing for an 11-bit identifier: J1939 has none.
/// src  SAE J1939-21; Wireshark packet-j1939.c
[[nodiscard]] constexpr std::optional<J1939Identifier> split_identifier(CanId id) {
  constexpr unsigned kPriorityShift = 26;
  constexpr unsigned kGroupShift = 8;
  constexpr std::uint32_t kGroupMask = 0x3FFFF;
  constexpr std::uint32_t kPriorityMask = 7;
  constexpr std::uint32_t kByteMask = 0xFF;
  if (!id.extended) return std::nullopt;
  J1939Identifier parts;
  parts.priority = static_cast<std::uint8_t>(id.value >> kPriorityShift & kPriorityMask);
  parts.source = static_cast<std::uint8_t>(id.value & kByteMask);
  parts.group = id.value >> kGroupShift & kGroupMask;
  if (has_destination(parts.group)) {
    parts.destination = static_cast<std::uint8_t>(parts.group & kByteMask);
    parts.group &= ~kByteMask;
  }
  return parts;
}

/// The inverse of split_identifier. The destination of a PDU2 group and bits above a field's width are left
/// out.
[[nodiscard]] constexpr CanId join_identifier(const J1939Identifier& parts) {
  constexpr unsigned kPriorityShift = 26;
  constexpr unsigned kGroupShift = 8;
  constexpr std::uint32_t kGroupMask = 0x3FFFF;
  constexpr std::uint32_t kPriorityMask = 7;
  constexpr std::uint32_t kByteMask = 0xFF;
  std::uint32_t group = parts.group & kGroupMask;
  if (has_destination(group)) group = (group & ~kByteMask) | parts.destination;
  return extended_id((parts.priority & kPriorityMask) << kPriorityShift | group << kGroupShift |
                     parts.source);
}

/// Destination of a request on 18EAxxF9, or of another PDU1 identifier.
[[nodiscard]] constexpr std::uint8_t group_destination(CanId id) {
  constexpr unsigned kDestinationShift = 8;
  return static_cast<std::uint8_t>(id.value >> kDestinationShift);
}

}  // namespace sumplog
