#include "core/job/hand_thermometer.h"

#include <algorithm>

namespace sumplog {

namespace {
constexpr double kMicros = 1e6;  // in a second
}

bool HandThermometer::on_reading(TimePoint at, double value_c) {
  if (at_ && at < *at_) return false;
  if (!thermometer_) begin();
  const Intake intake = thermometer_->on_reading(at, Celsius{value_c});
  // A slip, or a probe that was moved: no course of one fluid goes through both.
  contradicts_ = intake == Intake::suspicious || intake == Intake::out_of_range;
  if (contradicts_) {
    begin();
    (void)thermometer_->on_reading(at, Celsius{value_c});
  }
  estimate_ = thermometer_->estimate();
  at_ = at;
  value_c_ = value_c;
  return true;
}

void HandThermometer::begin() {
  ThermometerConfig config;
  config.window = window_;
  config.minimum_stay = minimum_stay_;
  config.step.value = kStep_c;
  config.rounding = Rounding::round;
  thermometer_.emplace(config);
}

std::optional<TimePoint> HandThermometer::ends() const {
  if (!at_ || !estimate_ || !estimate_->side) return std::nullopt;
  // Inside, it stands for no longer than the fluid is sure to stay there.
  Duration lasts = kFresh;
  if (*estimate_->side == WindowState::inside && estimate_->stay_s && (*estimate_->stay_s)[0])
    lasts = std::min(lasts, Duration{static_cast<Duration::rep>(*(*estimate_->stay_s)[0] * kMicros)});
  return *at_ + lasts + Duration{1};
}

Belief HandThermometer::belief(TimePoint now) const {
  const auto last = ends();
  if (!window_ || !last) return {};
  if (now >= *last) return {WindowState::unknown, "the reading by hand is too old", true};
  Belief belief = side_of(*estimate_, value_c_, *window_);
  // Which of the two was the slip is not known: the next reading tells.
  if (contradicts_ && belief.state == WindowState::inside)
    belief = {WindowState::unknown, "two readings by hand contradict each other: read again"};
  belief.by_hand = true;
  return belief;
}

}  // namespace sumplog
