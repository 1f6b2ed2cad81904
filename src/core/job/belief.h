#pragma once
#include <string>

#include "core/decoder/service_file.h"
#include "core/journal/event.h"
#include "core/thermal/thermometer.h"

namespace sumplog {

/// Where the fluid is, as far as that can be believed.
struct Belief {
  WindowState state = WindowState::unknown;
  std::string why;  ///< of `unknown`
  bool by_hand = false;
};

/// The estimate's side of the window; inside only if the number that the technician sees lies inside, too.
/// in   estimate  with a side
[[nodiscard]] Belief side_of(const ThermalEstimate& estimate, double reading_c,
                             const TemperatureWindow& window);

}  // namespace sumplog
