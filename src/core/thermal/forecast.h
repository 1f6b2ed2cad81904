#pragma once
#include <optional>
#include <span>

#include "core/decoder/service_file.h"
#include "core/thermal/pace_filter.h"
#include "core/thermal/sensor_cell.h"
#include "core/thermal/warming_hypotheses.h"
#include "core/thermal/weighted_quantiles.h"

namespace sumplog {

/// All that is known when somebody asks what comes.
struct ForecastQuestion {
  std::span<const Hypothesis> hypotheses;  ///< as of the last tick
  SensorCell cell;                         ///< of the last tick
  double since_tick_s = 0;
  double smooth_weight = 1;  ///< 0…1; the rest is the pace filter's
  double misfit = 1;         ///< of the track record: widens the rate
  const PaceFilter& pace;
  double level_c = 1;
  double since_passage_s = 0;
  bool standing = false;
  std::optional<TemperatureWindow> window;
  double minimum_stay_s = 0;
  double inside_for_s = 0;  ///< what of the stay is gone already
};

struct Forecast {
  double temperature_c = 0;
  double rate = 0, rate_low = 0, rate_high = 0;  ///< °C/s, 80 % interval
  // with a window only
  double inside = 0;  ///< probability
  std::optional<FourQuantiles> enter_s;
  std::optional<FourQuantiles> stay_s;  ///< of those courses that enter
  bool fast = false;                    ///< the whole stay is more likely than not shorter than the minimum
};

/// Spreads what is known over nodes, follows each to the window, and takes quantiles. Changes nothing.
/// out  nothing when no hypothesis is there
/// src  own research: docs/thermometer.md
[[nodiscard]] std::optional<Forecast> forecast(const ForecastQuestion& question);

}  // namespace sumplog
