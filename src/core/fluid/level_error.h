#pragma once
#include <array>
#include <optional>

#include "core/decoder/service_file.h"
#include "core/fluid/volume_correction.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// What closing at another temperature than the window allows means for the level.
struct LevelError {
  Celsius edge{};            ///< of the window, the one that was missed
  double ml_per_degree = 0;  ///< of the fill, at the edge
  std::array<double, 3>
      short_ml{};  ///< low, likely, high; above 0: too little fluid stays in, below: too much
};

/// in   density  nothing: kAssumedDensity ± kDensityRange
/// out  nothing: the plug was in inside the window, or a figure lies outside of the formula's limits
/// src  API MPMS 11.1 (volume_correction.h); the case grows too: aluminium, 23e-6 a degree in each direction, from
///      memory; all of the fill in the case is the one end of the range, none of it the other
[[nodiscard]] std::optional<LevelError> level_error(double fill_l, Celsius plug_in,
                                                    const TemperatureWindow& window,
                                                    std::optional<DensityAt15> density);

}  // namespace sumplog
