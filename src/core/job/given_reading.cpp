#include "core/job/given_reading.h"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace sumplog {

namespace {
constexpr double kLargest =
    1e5;  // in any unit that a table of readings has; beyond it the arithmetic would overflow
}

bool describe_given(const GivenReading& given, ReadingEvent& reading) {
  const bool temperature = given.signal.ends_with("_temperature");
  if (temperature) reading.unit = "degC";
  if (given.signal == "engine_speed") reading.unit = "rpm";
  if (given.signal == "vehicle_speed") reading.unit = "km/h";
  const std::size_t point = given.value.find('.');
  reading.decimals = point == std::string::npos
                         ? 0
                         : static_cast<int>(std::min<std::size_t>(given.value.size() - point - 1, 6));
  if (given.value.empty()) {
    reading.quality = Quality::suspect;
    reading.why = "not available";
    return true;
  }
  double value = 0;
  const char* const end = given.value.data() + given.value.size();
  const auto [stop, error] = std::from_chars(given.value.data(), end, value);
  if (error != std::errc{} || stop != end || !std::isfinite(value)) return false;
  if (std::abs(value) > kLargest) {
    reading.quality = Quality::suspect;
    reading.why = "out of range (" + given.value + ")";
    return true;
  }
  reading.value = value;
  return true;
}

}  // namespace sumplog
