#include "core/job/regime_watch.h"

#include <string_view>

#include "core/job/engine_speed.h"

namespace sumplog {
namespace {

constexpr std::string_view kEngineSpeed = "engine_speed";
constexpr std::string_view kVehicleSpeed = "vehicle_speed";
constexpr std::string_view kSelector = "selector_position";

}  // namespace

std::optional<Announcement> RegimeWatch::on_reading(const ReadingEvent& reading) {
  const bool tells =
      reading.signal == kEngineSpeed || reading.signal == kVehicleSpeed || reading.signal == kSelector;
  if (!tells || !reading.value || reading.quality != Quality::measured) return std::nullopt;
  if (!sources_.admits(reading)) return std::nullopt;

  if (reading.signal == kVehicleSpeed) return motion_.on_speed(reading.at, *reading.value);
  if (reading.signal == kEngineSpeed) {
    const bool runs = *reading.value >= kRunningRpm;
    const bool changed = engine_runs_ && *engine_runs_ != runs;
    engine_runs_ = runs;
    if (!changed) return std::nullopt;
    return runs ? Announcement::engine_started : Announcement::engine_stopped;
  }
  const bool moved = position_ && *position_ != reading.label;
  position_ = reading.label;
  return moved ? std::optional(Announcement::selector_moved) : std::nullopt;
}

}  // namespace sumplog
