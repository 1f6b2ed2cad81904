#pragma once
#include <optional>

#include "core/job/belief.h"
#include "core/thermal/thermometer.h"

namespace sumplog {

/// What a person reads from a second thermometer: it stands for the fluid for a minute at most.
class HandThermometer {
 public:
  static constexpr double kStep_c = 1;  ///< ours: what a thermometer in the stream is trusted to
  static constexpr Duration kFresh = std::chrono::seconds{60};  ///< ours: it is read less often than a unit

  HandThermometer(std::optional<TemperatureWindow> window, Duration minimum_stay)
      : window_(window), minimum_stay_(minimum_stay) {}

  /// out  false: an older reading that was entered late; it changes nothing
  bool on_reading(TimePoint at, double value_c);

  /// Belief in what the person read.
  [[nodiscard]] Belief belief(TimePoint now) const;
  /// From when on the last reading says nothing any more.
  [[nodiscard]] std::optional<TimePoint> ends() const;
  /// The forecast from the last reading; there is one.
  [[nodiscard]] std::optional<ThermalEstimate> estimate_at(TimePoint now) const {
    return thermometer_->estimate_at(now);
  }
  /// The last reading.
  [[nodiscard]] double value_c() const { return value_c_; }

 private:
  std::optional<TemperatureWindow> window_;
  Duration minimum_stay_;
  std::optional<Thermometer> thermometer_;
  std::optional<ThermalEstimate> estimate_;
  std::optional<TimePoint> at_;
  double value_c_ = 0;
};

}  // namespace sumplog
