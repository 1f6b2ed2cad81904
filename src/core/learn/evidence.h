#pragma once
#include <optional>
#include <string_view>
#include <vector>

#include "core/item/time.h"
#include "core/journal/event.h"
#include "core/learn/timed_values.h"

namespace sumplog {

/// A fluid temperature that a person measured with another thermometer.
struct SeenTemperature {
  TimePoint at{};
  double temp_c = 0;
  double error_c = kUsualError_c;               ///< as much may it be off, either way
  static constexpr double kUsualError_c = 1.5;  // common practice, no source: a probe in the stream
};

/// What is known of a capture beside the bytes that are searched: standard parameters, and what a person says.
struct Evidence {
  TimedValues coolant_c, oil_c, ambient_c, intake_c, engine_rpm, speed_kmh;
  std::vector<SeenTemperature> seen;
  std::optional<double> soak_c;  ///< a person says: everything had this temperature at the beginning

  /// Takes readings by hand and those of the standard parameters; others are nothing.
  void on_reading(const ReadingEvent& reading);
};

/// The temperature at which the whole car began, and how sure that is.
struct ColdSoak {
  double temp_c = 0;
  double spread_c = 0;  ///< one standard deviation
  double sure = 0;      ///< 0…1
};
/// What a person says; or else concluded from a cold coolant that agrees with the air. Nothing: a warm start, or not known.
/// in   begin  of the capture
[[nodiscard]] std::optional<ColdSoak> cold_soak(const Evidence& evidence, TimePoint begin);

}  // namespace sumplog
