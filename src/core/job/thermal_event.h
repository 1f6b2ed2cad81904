#pragma once
#include "core/job/belief.h"
#include "core/journal/event.h"

namespace sumplog {

/// The `thermal` line of an estimate.
/// in   believed  otherwise there is no temperature to show: never a stale repeat
[[nodiscard]] ThermalEvent thermal_event(TimePoint now, const Belief& belief, const ThermalEstimate& estimate,
                                         bool believed);

}  // namespace sumplog
