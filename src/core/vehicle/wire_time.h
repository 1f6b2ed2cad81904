#pragma once
#include <cstdint>

#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

struct BitRates {
  std::uint32_t nominal = 500'000;  ///< bit/s, ISO 15765-4: 250 or 500 kbit/s
  std::uint32_t data = 2'000'000;   ///< bit/s, data phase of CAN FD frames with bit rate switch
};

/// How long a frame occupies the bus, inter-frame space included, truncated to microseconds, at least 1.
/// Stuff bits that depend on the content are not counted, so the true time is 0…20 % longer.
/// src  ISO 11898-1 frame formats: data frame 44 + 8 n bits, extended 64 + 8 n, and 3 bits of inter-frame
/// space
[[nodiscard]] Duration wire_time(const CanFrame& frame, const BitRates& rates);

/// True when `a` wins the bus over `b`: lower base identifier first, then the 11-bit format over the 29-bit
/// one, then the extension, then data over remote. src  ISO 11898-1, bitwise arbitration: a dominant 0 wins
[[nodiscard]] bool wins_arbitration(const CanFrame& a, const CanFrame& b);

}  // namespace sumplog
