#pragma once
#include <optional>
#include <string>

#include "core/decoder/service_file.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// What is known before the plug is taken out of a gearbox beside a hot engine.
struct HotEngineSituation {
  Celsius coolant{};
  Celsius fluid{};
  TemperatureWindow window;
  std::optional<Celsius> coolant_limit;   ///< of the service file
  std::optional<double> foretold_stay_s;  ///< by the rate that is measured; nothing: not measured
  bool engine_warms_it_long = false;      ///< it has run for so long that the measured rate says it all
  double minimum_stay_s = 0;
};

/// A hot engine warms cool fluid faster than its rate so far tells: says how long the window will last then.
/// out  what to tell the person; nothing: the engine is not that hot, or the window is long enough
/// src  difference and pace: common practice, no source
[[nodiscard]] std::optional<std::string> hot_engine_warning(const HotEngineSituation& situation);

}  // namespace sumplog
