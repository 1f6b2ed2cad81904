#include "core/job/thermal_event.h"

namespace sumplog {

ThermalEvent thermal_event(TimePoint now, const Belief& belief, const ThermalEstimate& estimate,
                           bool believed) {
  ThermalEvent thermal;
  thermal.at = now;
  thermal.window = belief.state;
  thermal.why = belief.why;
  thermal.by_hand = believed && belief.by_hand;
  if (believed) {
    thermal.temp_c = estimate.temperature.value;
    if (estimate.rate) thermal.rate_c_per_min = estimate.rate->value;
    if (estimate.rate_low) thermal.rate_low = estimate.rate_low->value;
    if (estimate.rate_high) thermal.rate_high = estimate.rate_high->value;
    thermal.enter_in_s = estimate.enter_in_s;
    thermal.stay_s = estimate.stay_s;
    thermal.announce_in_s = estimate.announce_in_s;
    if (estimate.fast) thermal.flags.emplace_back("fast");
    if (estimate.falling) thermal.flags.emplace_back("falling");
    if (estimate.frozen) thermal.flags.emplace_back("frozen");
    if (estimate.irregular) thermal.flags.emplace_back("irregular");
  }
  if (estimate.substitute) thermal.flags.emplace_back("substitute");
  if (estimate.side) thermal.estimate_inside = *estimate.side == WindowState::inside;
  return thermal;
}

}  // namespace sumplog
