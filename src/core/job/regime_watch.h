#pragma once
#include <optional>
#include <string>

#include "core/job/signal_sources.h"
#include "core/journal/event.h"
#include "core/thermal/announcement.h"
#include "core/thermal/vehicle_motion.h"

namespace sumplog {

/// Sees in the readings of other signals that the fluid may warm differently from now on: engine started or
/// stopped, selector moved, vehicle stopped or drove off.
class RegimeWatch {
 public:
  /// out  what has just changed; nothing for a signal that tells nothing, or for the first value of one
  std::optional<Announcement> on_reading(const ReadingEvent& reading);

 private:
  SignalSources sources_;
  std::optional<bool> engine_runs_;
  std::optional<std::string> position_;
  VehicleMotion motion_;
};

}  // namespace sumplog
