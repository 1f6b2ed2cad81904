#include "core/thermal/vehicle_motion.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Own research (docs/thermometer.md).
constexpr double kStands_kmh = 1;  // below it
constexpr double kMoves_kmh = 5;   // from it on
constexpr Duration kStandsFor = 20s;
constexpr Duration kMovesFor = 5s;

}  // namespace

std::optional<Announcement> VehicleMotion::on_speed(TimePoint at, double kmh) {
  std::optional<Announcement> seen = wanted_;
  if (kmh < kStands_kmh) seen = Announcement::vehicle_stopped;
  if (kmh >= kMoves_kmh) seen = Announcement::vehicle_drove_off;
  if (seen != wanted_) {
    wanted_ = seen;
    wanted_since_ = at;
  }
  if (!wanted_ || wanted_ == known_) return std::nullopt;
  const Duration hold = *wanted_ == Announcement::vehicle_stopped ? kStandsFor : kMovesFor;
  if (at - wanted_since_ < hold) return std::nullopt;
  known_ = wanted_;
  return known_;
}

}  // namespace sumplog
