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

  /// Begins anew where the one before contradicts it, as a fluid cannot change so fast.
  /// out  false: an older reading that was entered late; it changes nothing
  bool on_reading(TimePoint at, double value_c);

  /// Belief in what the person read. One that contradicts the reading before is not inside until the next agrees with it.
  [[nodiscard]] Belief belief(TimePoint now) const;
  /// From when on the last reading says nothing any more.
  [[nodiscard]] std::optional<TimePoint> ends() const;
  /// The forecast from the last reading; there is one.
  [[nodiscard]] std::optional<ThermalEstimate> estimate_at(TimePoint now) const {
    return thermometer_->estimate_at(now);
  }
  /// Whether the last reading contradicts the one before.
  [[nodiscard]] bool contradicts() const { return contradicts_; }
  /// The last reading.
  [[nodiscard]] double value_c() const { return value_c_; }

 private:
  void begin();

  std::optional<TemperatureWindow> window_;
  Duration minimum_stay_;
  std::optional<Thermometer> thermometer_;
  std::optional<ThermalEstimate> estimate_;
  std::optional<TimePoint> at_;
  double value_c_ = 0;
  bool contradicts_ = false;
};

}  // namespace sumplog
