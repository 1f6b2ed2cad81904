#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/fluid/fluid_volume.h"
#include "core/fluid/volume_correction.h"
#include "core/journal/event.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// Sums are told at the temperature of a can in a workshop, so that they read as what is poured. The formula itself goes by
/// way of 15 °C.
inline constexpr Celsius kBalanceReference{20};

/// One volume at kBalanceReference.
struct CountedVolume {
  FluidWay way = FluidWay::out;
  std::string part;
  double litres = 0;
};

struct CountedVolumes {
  std::vector<CountedVolume> volumes;  ///< in the order of the input; what cannot be counted is left out
  std::vector<std::string> assumes;    ///< what was left out and why, and what nobody said
};

/// Brings what was entered to one temperature.
/// in   said  density of the service file, for volumes that name none; nothing: kAssumedDensity
/// src  API MPMS 11.1 (volume_correction.h). A volume without a temperature is taken as it was measured.
[[nodiscard]] CountedVolumes counted(const std::vector<FluidVolume>& volumes,
                                     std::optional<DensityAt15> said);

/// What came out, what went in, and what must go back now, at the temperature of the fluid that goes in. Where fluid ran out of
/// the standpipe or went in at a level check, that check has set the level: only what came after it must go back.
/// out  time and everything about the exchange is left open
[[nodiscard]] BalanceEvent balance_of(const std::vector<FluidVolume>& entered, const CountedVolumes& counted,
                                      std::optional<DensityAt15> said);

}  // namespace sumplog
