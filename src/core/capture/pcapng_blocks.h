#pragma once
#include <cstdint>

// Numbers of the pcapng form; src  draft-ietf-opsawg-pcapng.
namespace sumplog::pcapng {

inline constexpr std::uint32_t kSectionHeader = 0x0A0D0D0A;  // reads the same in both byte orders
inline constexpr std::uint32_t kInterfaceDescription = 1;
inline constexpr std::uint32_t kPacket = 2;  // obsolete
inline constexpr std::uint32_t kSimplePacket = 3;
inline constexpr std::uint32_t kInterfaceStatistics = 5;
inline constexpr std::uint32_t kEnhancedPacket = 6;

inline constexpr std::uint32_t kByteOrderMagic = 0x1A2B3C4D;
inline constexpr std::uint16_t kMajorVersion = 1;

inline constexpr std::uint16_t kEndOfOptions = 0;
inline constexpr std::uint16_t kInterfaceName = 2;
inline constexpr std::uint16_t kTimeResolution = 9;
inline constexpr std::uint16_t kTimeOffset = 14;
inline constexpr std::uint16_t kPacketDropCount = 4;        // of an enhanced packet block
inline constexpr std::uint16_t kStatisticsIfDrop = 5;       // of an interface statistics block
inline constexpr std::uint16_t kStatisticsOsDrop = 7;       // of an interface statistics block
inline constexpr std::uint16_t kDropCountUnknown = 0xFFFF;  // of an obsolete packet block

inline constexpr std::uint32_t kBlockFrame = 12;  // type and length before the body, length behind it
inline constexpr std::uint32_t kBodyOffset = 8;
inline constexpr std::uint32_t kAlignment = 4;

}  // namespace sumplog::pcapng
