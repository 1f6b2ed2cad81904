#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/capture/reader.h"

namespace sumplog {

/// Reads a pcapng capture: several sections of either byte order, several interfaces with name, time
/// resolution and offset, enhanced packet blocks and the obsolete packet blocks. Blocks of other types are
/// passed over by their length. A bus has the interface's name, or can<index> when it has none. Lost packets
/// that the capture counts become ReceiveDrops. A simple packet block carries no time and is unreadable; an
/// interface of another link type is said once. src  draft-ietf-opsawg-pcapng (blocks 4.1–4.6, appendix A)
[[nodiscard]] std::unique_ptr<CaptureReader> make_pcapng_reader();

/// How an interface of a pcapng capture counts time.
struct PcapngClock {
  std::uint8_t resolution = 6;  ///< if_tsresol: 10^-n s; with bit 7 set 2^-n s
  std::int64_t offset_s = 0;    ///< if_tsoffset
};
/// Whole microseconds, truncated; nothing when they do not fit.
[[nodiscard]] std::optional<std::int64_t> pcapng_micros(std::uint64_t ticks, const PcapngClock& clock);

/// The first link type that is not CAN among the interfaces described in the first bytes of a capture, when
/// no interface there is CAN.
[[nodiscard]] std::optional<std::uint16_t> pcapng_foreign_link_type(std::string_view beginning);

}  // namespace sumplog
