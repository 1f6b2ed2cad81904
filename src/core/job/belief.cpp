#include "core/job/belief.h"

namespace sumplog {

Belief side_of(const ThermalEstimate& estimate, double reading_c, const TemperatureWindow& window) {
  if (*estimate.side == WindowState::inside) {
    if (reading_c < window.low.value) return {WindowState::below, {}};
    if (reading_c > window.high.value) return {WindowState::above, {}};
  }
  return {*estimate.side, {}};
}

}  // namespace sumplog
