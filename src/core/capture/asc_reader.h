#pragma once
#include <memory>
#include <string_view>

#include "core/capture/reader.h"

namespace sumplog {

/// Reads an ASC text log: data, remote and error frames, CAN FD lines, base hex or dec, absolute or relative
/// times. Channel n is bus can<n-1>. The date names no zone and is taken as UTC. Events that are no frames
/// (status, statistics, other buses, requests to send) are passed over; CAN XL lines are not read and said
/// so. src  can-utils asc2log.c, log2asc.c; python-can asc.py
[[nodiscard]] std::unique_ptr<CaptureReader> make_asc_reader();

/// Whether a line is one of those that an ASC log begins with: its date, its base.
[[nodiscard]] bool is_asc_header(std::string_view line);

/// The comment by which our own ASC logs name a bus that is not can<n-1>: "// channel 2 is vcan0".
inline constexpr std::string_view kAscChannelComment = "// channel ";
inline constexpr std::string_view kAscChannelIs = "is";

// Flags of a CANFD line; src  can-utils log2asc.c
inline constexpr std::uint32_t kAscRemote = 0x10;
inline constexpr std::uint32_t kAscFd = 0x1000;
inline constexpr std::uint32_t kAscBitRateSwitch = 0x2000;
inline constexpr std::uint32_t kAscErrorState = 0x4000;

}  // namespace sumplog
