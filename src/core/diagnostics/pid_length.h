#pragma once
#include <cstdint>
#include <optional>

namespace sumplog {

/// How many data bytes follow a service 01 parameter in an answer; nothing where we have no source for it.
/// Needed to walk an answer that holds several parameters. src  SAE J1979 as tabled by Debian's scapy 2.5.0
/// (scapy/contrib/automotive/obd/pid), except 02 (two bytes: a DTC) and 10
///      (two bytes: Wireshark packet-obd-ii.c), where scapy's table is short
[[nodiscard]] std::optional<std::size_t> pid_length(std::uint8_t pid);

}  // namespace sumplog
