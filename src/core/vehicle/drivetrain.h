#pragma once
#include <cstdint>
#include <optional>

#include "core/item/time.h"
#include "core/vehicle/quantity.h"
#include "core/vehicle/scenario.h"
#include "core/vehicle/thermal_model.h"

namespace sumplog {

/// Engine, transmission and their heat: what is true in the simulated vehicle, before any unit rounds or
/// hides it.
class Drivetrain {
 public:
  Drivetrain(const Scenario& scenario, TimePoint start);

  void advance_to(TimePoint at);
  /// Happens now, at the time of the last advance.
  void apply(const VehicleChange& change);

  /// in   quantity  selector_position: the number of the SelectorPosition
  /// out  its unit as quantity.h says; for fluid_temperature what the sensor feels or what stands in its
  /// place
  [[nodiscard]] double value(Quantity quantity) const;
  /// How long the engine has run since the start, all runs together.
  [[nodiscard]] Duration engine_ran() const { return engine_ran_; }
  /// dead: whoever tells the fluid temperature sends its "no value" pattern.
  [[nodiscard]] SensorState sensor() const { return sensor_; }
  /// The truth, for tests: no unit sees it.
  [[nodiscard]] const ThermalState& temperatures() const { return thermal_.state(); }
  [[nodiscard]] const ThermalModel& thermal() const { return thermal_; }

 private:
  [[nodiscard]] double engine_rpm() const;
  [[nodiscard]] double felt_fluid_c() const;
  [[nodiscard]] double scatter(std::uint64_t stream) const;
  void feed_thermal();

  std::uint64_t seed_;
  TimePoint start_;
  TimePoint now_;
  ThermalModel thermal_;
  Celsius ambient_;
  bool engine_runs_;
  bool fan_runs_;
  SelectorPosition selector_;
  double vehicle_km_h_ = 0;
  std::optional<double> rpm_held_;
  std::optional<double> volts_held_;
  TimePoint engine_started_;
  Duration engine_ran_{};
  double odometer_km_;
  CelsiusDifference noise_;
  SensorState sensor_ = SensorState::works;
  double shown_c_ = 0;  ///< while stuck or substitute
};

}  // namespace sumplog
