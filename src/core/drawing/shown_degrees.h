#pragma once
#include <string>
#include <string_view>

#include "core/item/json_line.h"
#include "core/thermal/temperature.h"

namespace sumplog {

// Temperatures as a person asked for them; inside they are °C.

[[nodiscard]] inline std::string degrees_text(Celsius value, bool in_fahrenheit, int decimals) {
  return fixed(in_fahrenheit ? fahrenheit(value) : value.value, decimals) + (in_fahrenheit ? " °F" : " °C");
}
[[nodiscard]] inline std::string degrees_text(CelsiusPerMinute value, bool in_fahrenheit, int decimals) {
  return fixed(in_fahrenheit ? fahrenheit(value) : value.value, decimals) +
         (in_fahrenheit ? " °F/min" : " °C/min");
}
/// "35 to 45 °C"
[[nodiscard]] inline std::string degrees_text(Celsius low, Celsius high, bool in_fahrenheit, int decimals) {
  return fixed(in_fahrenheit ? fahrenheit(low) : low.value, decimals) + " to " +
         degrees_text(high, in_fahrenheit, decimals);
}

/// A phrase of the program as a person asked for it: "cool below 30 °C" is "cool below 86 °F". Never for what a person wrote.
/// in   phrase  a difference stands behind "by " or before " above the window", " below the window", " from the coolant"; a
///              rate is "°C/min"
/// out  as many decimals as before; everything else unchanged
[[nodiscard]] std::string degrees_of_phrase(std::string_view phrase, bool in_fahrenheit);

}  // namespace sumplog
