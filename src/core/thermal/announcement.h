#pragma once
#include <cstdint>

namespace sumplog {

/// Known events after which the fluid may warm differently.
enum class Announcement : std::uint8_t {
  engine_started,
  engine_stopped,
  selector_moved,
  vehicle_stopped,    ///< and stands from now on
  vehicle_drove_off,  ///< and moves from now on
  fluid_added,
  gap,  ///< nothing was read for long
};

}  // namespace sumplog
