#pragma once
#include <array>
#include <chrono>
#include <cstddef>
#include <cstdint>

#include "core/item/time.h"

namespace sumplog {

// The wire of ISO 15765-2, as both sides need it. With extended or mixed addressing every offset is one
// higher: byte 0 is then the address byte.
//
//   frame                   offset | size | name
//   single, CAN_DL ≤ 8      0      | 1    | 0L: L = SF_DL 1…7          then the data
//   single, CAN_DL > 8      0      | 2    | 00 LL: LL = SF_DL          then the data
//   first, FF_DL ≤ 4095     0      | 2    | 1L LL: 12 bit, big-endian  then the data
//   first, FF_DL > 4095     0      | 6    | 10 00 LL LL LL LL          then the data
//   consecutive             0      | 1    | 2N: sequence number, 1 first, 15 wraps to 0
//   flow control            0      | 3    | 3S BS STmin: S 0 continue, 1 wait, 2 overflow

inline constexpr std::uint8_t kPciTypeMask = 0xF0;     // ISO 15765-2, high nibble of the first N_PCI byte
inline constexpr std::uint8_t kPciLowMask = 0x0F;      // ISO 15765-2, SF_DL, FF_DL bits 11…8, SN or FS
inline constexpr std::uint8_t kPciSingle = 0x00;       // ISO 15765-2, SF
inline constexpr std::uint8_t kPciFirst = 0x10;        // ISO 15765-2, FF
inline constexpr std::uint8_t kPciConsecutive = 0x20;  // ISO 15765-2, CF
inline constexpr std::uint8_t kPciFlowControl = 0x30;  // ISO 15765-2, FC

inline constexpr std::uint8_t kFlowContinue = 0;  // ISO 15765-2, FS continue to send
inline constexpr std::uint8_t kFlowWait = 1;      // ISO 15765-2, FS wait
inline constexpr std::uint8_t kFlowOverflow = 2;  // ISO 15765-2, FS overflow

inline constexpr std::size_t kSinglePciBytes = 1;       // ISO 15765-2, SF on CAN_DL ≤ 8
inline constexpr std::size_t kSingleEscapeBytes = 2;    // ISO 15765-2, SF on CAN_DL > 8
inline constexpr std::size_t kFirstPciBytes = 2;        // ISO 15765-2, FF with FF_DL ≤ 4095
inline constexpr std::size_t kFirstEscapeBytes = 6;     // ISO 15765-2, FF with FF_DL > 4095
inline constexpr std::size_t kConsecutivePciBytes = 1;  // ISO 15765-2, CF
inline constexpr std::size_t kFlowControlBytes = 3;     // ISO 15765-2, FC
inline constexpr std::uint32_t kMaxShortFirst = 4095;   // bytes; ISO 15765-2, largest FF_DL of 12 bits
inline constexpr std::size_t kClassicLength = 8;        // bytes; ISO 11898-1, longest classic frame
inline constexpr std::uint8_t kSequenceModulus = 16;    // ISO 15765-2, SN is 4 bits

inline constexpr std::uint8_t kPaddingByte = 0xCC;  // ISO 15765-2, recommended padding; Linux can/isotp.h

inline constexpr Duration kNCr = std::chrono::seconds{1};  // ISO 15765-2, N_Cr: next consecutive frame
inline constexpr Duration kNBs = std::chrono::seconds{1};  // ISO 15765-2, N_Bs: next flow control

/// Lengths that a frame can have above 8 bytes, and 8 itself: a first frame has one of them.
inline constexpr std::array<std::uint8_t, 8> kFullLengths{8,  12, 16, 20,
                                                          24, 32, 48, 64};  // bytes; ISO 11898-1, DLC 8…15

/// The shortest of kFullLengths that holds `length` bytes.
/// in  length  0…64
[[nodiscard]] constexpr std::size_t full_length(std::size_t length) {
  for (const std::size_t full : kFullLengths) {
    if (length <= full) return full;
  }
  return kFullLengths.back();
}

/// The gap that an STmin byte asks for: 00…7F milliseconds, F1…F9 100…900 µs; a reserved value means 127 ms.
/// src  ISO 15765-2, STmin; reserved values: Linux net/can/isotp.c
[[nodiscard]] constexpr Duration separation_time(std::uint8_t st_min) {
  constexpr std::uint8_t kLastMillisecond = 0x7F;  // ISO 15765-2: 127 ms, and what reserved values mean
  constexpr std::uint8_t kMicroBase = 0xF0;        // ISO 15765-2: F1 is 100 µs
  constexpr std::uint8_t kLastMicro = 0xF9;        // ISO 15765-2: F9 is 900 µs
  constexpr Duration kMicroStep = std::chrono::microseconds{100};  // ISO 15765-2
  if (st_min <= kLastMillisecond) return std::chrono::milliseconds{st_min};
  if (st_min > kMicroBase && st_min <= kLastMicro) return kMicroStep * (st_min - kMicroBase);
  return std::chrono::milliseconds{kLastMillisecond};
}

}  // namespace sumplog
