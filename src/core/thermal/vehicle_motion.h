#pragma once
#include <optional>

#include "core/item/time.h"
#include "core/thermal/announcement.h"

namespace sumplog {

/// Standing or moving, from the vehicle speed: a stop at a light is not standing, a push is not moving.
/// src  own research: docs/thermometer.md
class VehicleMotion {
 public:
  /// out  vehicle_stopped or vehicle_drove_off when that has just become known
  std::optional<Announcement> on_speed(TimePoint at, double kmh);

 private:
  std::optional<Announcement> known_;
  std::optional<Announcement> wanted_;
  TimePoint wanted_since_{};
};

}  // namespace sumplog
