#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace sumplog {

/// What the simulated vehicle knows of itself and its units can tell; names as in the decoders.
enum class Quantity : std::uint8_t {
  fluid_temperature,       ///< °C, as the sensor feels it
  coolant_temperature,     ///< °C
  engine_oil_temperature,  ///< °C
  intake_air_temperature,  ///< °C
  ambient_temperature,     ///< °C
  engine_speed,            ///< rpm
  vehicle_speed,           ///< km/h
  engine_load,             ///< %
  throttle_position,       ///< %
  module_voltage,          ///< V
  engine_run_time,         ///< s since the engine started
  odometer,                ///< km
  selector_position,       ///< SelectorPosition as a number
  actual_gear,             ///< 0: none
};

/// Position of the selector lever.
enum class SelectorPosition : std::uint8_t { park, reverse, neutral, drive };

/// Words of the scenario files, in the order of the enumeration: "fluid_temperature", …
[[nodiscard]] std::span<const std::string_view> quantity_names();
/// "P", "R", "N", "D"
[[nodiscard]] std::span<const std::string_view> selector_names();

}  // namespace sumplog
