#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "core/isotp/message.h"

namespace sumplog {

enum class GuardRefusal : std::uint8_t {
  service_not_listed = 1,  ///< not one of 01 02 03 06 07 09 0A 19 21 22
  identifier_not_listed,   ///< not a diagnostic request identifier, or not with this address byte
  identifier_in_use,       ///< named by a decoder (or J1939 address F9), but somebody else was heard using it
  length_wrong,            ///< longer than a single frame, or not the length that the service has
  sub_function_not_listed,  ///< service 19 with anything but the reading sub-functions
  no_own_request,           ///< flow control for a unit that is not answering a request of ours
  group_not_listed,         ///< J1939 request for a PGN outside the list
  flow_control_not_listed,  ///< flow control that is neither "go on" nor "too long for me" (a wait, a hold,
                            ///< nonsense)
};
[[nodiscard]] std::string_view text_of(GuardRefusal refusal);

// The fixed list. Everything that can ever leave is written in read_list.cpp; nothing at run time adds to it.

/// What an identifier may carry when we send on it.
enum class SendingIdentifier : std::uint8_t {
  none,
  functional,       ///< 7DF, 18DB33F1
  physical,         ///< 7E0–7E7, 18DAxxF1
  mixed,            ///< 18CExxF1, one address byte
  group_request,    ///< J1939 18EAxxF9
  group_transport,  ///< J1939 18ECxxF9
  address_claim,    ///< J1939 18EEFFF9
};
/// Which of the fixed identifiers this is. Those that decoders name are not among them.
[[nodiscard]] SendingIdentifier sending_identifier(CanId id);

/// True for an 11-bit identifier that a decoder may name for requests: 600–7FF, but none of 7DF–7EF, which
/// ISO 15765-4 has given away (there, 7E8–7EF are the voices of units).
[[nodiscard]] bool may_be_named(CanId id);

/// Checks a diagnostic request against the list.
/// in   payload  service id first
///      room     bytes that a single frame has for it: 7, or 6 beside an address byte
/// err  service_not_listed · sub_function_not_listed · length_wrong (checked in this order)
[[nodiscard]] std::optional<GuardRefusal> refuse_request(std::span<const std::uint8_t> payload,
                                                         std::size_t room);

[[nodiscard]] bool group_on_list(std::uint32_t pgn);
/// On the list, and its number has a published source: a decoder may have it asked for.
[[nodiscard]] bool group_published(std::uint32_t pgn);

// Identifiers that more than one file of the guard needs.
inline constexpr std::uint8_t kOurJ1939Address = 0xF9;  // SAE J1939: off-board diagnostic service tool 1
inline constexpr std::uint8_t kGlobalAddress = 0xFF;    // SAE J1939-21
inline constexpr std::uint32_t kGroupRequestBase = 0x18EA0000;  // priority 6, PGN EA00 (request), J1939-21
inline constexpr std::uint32_t kGroupTransportBase =
    0x18EC0000;                                               // PGN EC00 (TP.CM), sent with priority 6 here
inline constexpr std::uint32_t kAddressClaimId = 0x18EEFFF9;  // PGN EE00 (address claimed) to all, from F9

}  // namespace sumplog
