#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "core/vehicle/drivetrain.h"

namespace sumplog {

/// True when the simulated units can carry this parameter of SAE J1979 service 01. The bitmaps (00, 20, 40 …)
/// are not among them: each unit answers those by itself. Some tell of the fault memory (FaultMemory::tells).
[[nodiscard]] bool is_known_parameter(std::uint8_t pid);

/// The data bytes behind a PID, as they are now.
/// in   pid  known, and none of those that tell of the fault memory
/// src  SAE J1979, table of PIDs
[[nodiscard]] std::vector<std::uint8_t> parameter_bytes(std::uint8_t pid, const Drivetrain& drivetrain);

/// The four bytes that say which of base+1 … base+20 hex are there, most significant bit first; the last bit
/// is set as well when a higher parameter follows in a later range. in   supported  sorted src  SAE J1979,
/// PID 00 and its kin
[[nodiscard]] std::vector<std::uint8_t> support_bitmap(std::span<const std::uint8_t> supported,
                                                       std::uint8_t base);

/// 00, 20, 40 …
[[nodiscard]] constexpr bool is_bitmap(std::uint8_t pid) {
  return (pid & 0x1FU) == 0;
}
/// True when a unit with these parameters answers the bitmap `base`: always 00, later ones up to the last
/// that is needed.
[[nodiscard]] bool has_bitmap(std::span<const std::uint8_t> supported, std::uint8_t base);

}  // namespace sumplog
