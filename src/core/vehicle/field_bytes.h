#pragma once
#include <cstdint>
#include <vector>

#include "core/vehicle/drivetrain.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// in   value  in the unit of the quantity
/// out  1…4 bytes as `coding` says; a value beyond the field takes the field's nearest end
[[nodiscard]] std::vector<std::uint8_t> field_bytes(const FieldCoding& coding, double value);

/// The same for a quantity as it is now: the "no value" pattern for the fluid temperature of a dead sensor
/// (all ones when the coding names none), the code of the position for the selector.
[[nodiscard]] std::vector<std::uint8_t> field_bytes(const FieldCoding& coding, Quantity quantity,
                                                    const Drivetrain& drivetrain);

}  // namespace sumplog
