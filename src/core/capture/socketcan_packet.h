#pragma once
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "core/item/frame.h"
#include "core/item/result.h"

namespace sumplog {

/// Link type of CAN frames in pcap and pcapng files.
inline constexpr std::uint16_t kLinkTypeCanSocketcan = 227;  // tcpdump.org link types, LINKTYPE_CAN_SOCKETCAN
/// Longest packet of that link type: CAN XL, 12 bytes before 2048 of data (linux/can.h, CANXL_MTU).
inline constexpr std::size_t kLongestSocketcanPacket = 12 + 2048;

/// Reads one packet of that link type.
/// in   packet  offset | size | name
///              0      | 4    | identifier, big-endian; bit 31 extended, 30 remote, 29 error
///              4      | 1    | data length 0…64
///              5      | 1    | CAN FD flags: 1 BRS, 2 ESI, 4 FDF
///              6      | 2    | reserved
///              8      | n    | data; what follows it is padding
/// out  a frame; CAN FD when FDF is set in a clean header, or when more than 8 bytes are there (older
/// captures) err  what is wrong with the packet, as a clause src  tcpdump.org LINKTYPE_CAN_SOCKETCAN;
/// Wireshark packet-socketcan.c
[[nodiscard]] Result<CanFrame, std::string> parse_socketcan_packet(std::string_view packet, TimePoint at,
                                                                   BusName bus);

/// The packet of a frame, without padding.
[[nodiscard]] std::string socketcan_packet(const CanFrame& frame);

}  // namespace sumplog
