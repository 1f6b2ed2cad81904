#pragma once
#include <string>

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

}  // namespace sumplog
