#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/item/frame.h"
#include "core/vehicle/drivetrain.h"

namespace sumplog {

/// The SAE J1939-71 groups that the simulated vehicle can broadcast.
enum class BroadcastGroup : std::uint8_t {
  engine_speed,            ///< EEC1, PGN 61444
  gears,                   ///< ETC2, PGN 61445
  vehicle_identification,  ///< VI, PGN 65260
  engine_temperature,      ///< ET1, PGN 65262
  vehicle_speed,           ///< CCVS, PGN 65265
  transmission_fluids,     ///< TRF1, PGN 65272
};
inline constexpr std::array<BroadcastGroup, 6> kBroadcastGroups{
    BroadcastGroup::engine_speed,       BroadcastGroup::gears,         BroadcastGroup::vehicle_identification,
    BroadcastGroup::engine_temperature, BroadcastGroup::vehicle_speed, BroadcastGroup::transmission_fluids};

[[nodiscard]] std::uint32_t pgn_of(BroadcastGroup group);

/// The group's data as they are now: 8 bytes, FF where nothing is told; more for vehicle_identification (the
/// VIN and an asterisk). src  SAE J1939-71; SPN 177, 190, 110, 84, 523, 524
[[nodiscard]] std::vector<std::uint8_t> group_data(BroadcastGroup group, const std::string& vin,
                                                   const Drivetrain& drivetrain);

/// 29-bit identifier of a broadcast group, or, for a group with a destination, of that destination.
/// src  SAE J1939-21: priority 28…26, PGN 25…8, source address 7…0
[[nodiscard]] CanId j1939_id(unsigned priority, std::uint32_t pgn, std::uint8_t destination,
                             std::uint8_t source);

/// A message of more than 8 bytes as a broadcast announce message: the announcement first, then its packets
/// of seven bytes. in   data  9…1785 bytes src  SAE J1939-21: TP.CM_BAM and TP.DT
[[nodiscard]] std::vector<CanFrame> announce_frames(std::uint32_t pgn, std::uint8_t source,
                                                    std::span<const std::uint8_t> data);

}  // namespace sumplog
