#include "core/vehicle/drivetrain.h"

#include <algorithm>

#include "core/vehicle/random.h"

namespace sumplog {
namespace {

// Invented figures of the simulated engine; none of a real vehicle.
constexpr double kIdleParkRpm = 700;
constexpr double kIdleDriveRpm = 650;
constexpr double kColdIdleBelow_c = 50;   // °C of the coolant: below, idle speed is raised
constexpr double kColdIdlePerKelvin = 8;  // rpm for each K below
constexpr double kMostColdIdle = 400;     // rpm
constexpr double kDrivingRpm = 1000;      // rpm at walking pace
constexpr double kDrivingRpmPerKmh = 12;  // rpm for each km/h
constexpr double kRpmRipple = 6;          // rpm either way: an engine never turns quite evenly
constexpr double kLoadPark_percent = 20;
constexpr double kLoadDrive_percent = 28;
constexpr double kThrottleIdle_percent = 14;
constexpr double kThrottlePerKmh_percent = 0.2;
constexpr double kRunningVoltage = 14.2;
constexpr double kStandingVoltage = 12.4;
constexpr double kOilShare = 0.92;     // of the coolant's distance from ambient, that the engine oil has
constexpr double kIntakeShare = 0.12;  // the same for the intake air
constexpr double kKmhPerGear = 18;
constexpr int kGears = 9;
constexpr double kSecondsPerHour = 3600;
constexpr Duration kScatterGrid{100'000};  // the scatter of a value changes this often
constexpr std::uint64_t kFluidStream = 1;
constexpr std::uint64_t kRpmStream = 2;

}  // namespace

Drivetrain::Drivetrain(const Scenario& scenario, TimePoint start)
    : seed_(scenario.seed),
      start_(start),
      now_(start),
      thermal_(scenario.thermal, scenario.temperatures, start),
      ambient_(scenario.ambient),
      engine_runs_(scenario.engine_runs),
      fan_runs_(scenario.fan_runs),
      selector_(scenario.selector),
      engine_started_(start),
      odometer_km_(scenario.odometer_km),
      noise_(scenario.sensor_noise) {
  feed_thermal();
}

void Drivetrain::advance_to(TimePoint at) {
  if (at <= now_) return;
  if (engine_runs_) engine_ran_ += at - now_;
  odometer_km_ += vehicle_km_h_ * in_seconds(at - now_) / kSecondsPerHour;
  // The idle speed follows the coolant, so the input is set anew for each step of the grid.
  while (now_ < at) {
    now_ = std::min(at, now_ + ThermalModel::kStep);
    thermal_.advance_to(now_);
    feed_thermal();
  }
}

void Drivetrain::feed_thermal() {
  ThermalInput input;
  input.ambient = ambient_;
  input.engine_running = engine_runs_;
  input.engine_rpm = engine_rpm();
  input.in_gear = selector_ == SelectorPosition::drive || selector_ == SelectorPosition::reverse;
  input.speed_kmh = vehicle_km_h_;
  input.fan = fan_runs_;
  thermal_.set_input(input);
}

void Drivetrain::apply(const VehicleChange& change) {
  struct Visitor {
    Drivetrain& d;
    void operator()(const EngineChange& c) const {
      if (c.runs && !d.engine_runs_) d.engine_started_ = d.now_;
      d.engine_runs_ = c.runs;
    }
    void operator()(const SelectorChange& c) const { d.selector_ = c.position; }
    void operator()(const VehicleSpeedChange& c) const { d.vehicle_km_h_ = c.km_h; }
    void operator()(const EngineSpeedChange& c) const { d.rpm_held_ = c.rpm; }
    void operator()(const FanChange& c) const { d.fan_runs_ = c.runs; }
    void operator()(const FluidAdded& c) const { d.thermal_.add_fluid(c.litres, c.temperature); }
    void operator()(const FluidDrained& c) const { d.thermal_.drain_fluid(c.litres); }
    void operator()(const SensorChange& c) const {
      if (c.state == SensorState::stuck && d.sensor_ == SensorState::works) d.shown_c_ = d.felt_fluid_c();
      if (c.state == SensorState::substitute) d.shown_c_ = c.substitute.value;
      d.sensor_ = c.state;
    }
    void operator()(const SupplyChange& c) const { d.volts_held_ = c.volts; }
  };
  std::visit(Visitor{*this}, change);
  feed_thermal();
}

double Drivetrain::engine_rpm() const {
  if (!engine_runs_) return 0;
  const bool in_gear = selector_ == SelectorPosition::drive || selector_ == SelectorPosition::reverse;
  const double cold = std::clamp(kColdIdlePerKelvin * (kColdIdleBelow_c - thermal_.state().coolant.value),
                                 0.0, kMostColdIdle);
  const double idle = (in_gear ? kIdleDriveRpm : kIdleParkRpm) + cold;
  if (rpm_held_) return std::max(*rpm_held_, 0.0);
  if (vehicle_km_h_ > 0) return std::max(idle, kDrivingRpm + kDrivingRpmPerKmh * vehicle_km_h_);
  return idle;
}

double Drivetrain::scatter(std::uint64_t stream) const {
  const auto index = static_cast<std::uint64_t>((now_ - start_) / kScatterGrid);
  return Random::symmetric(Random::at(Random::at(seed_, stream), index));
}

double Drivetrain::felt_fluid_c() const {
  return thermal_.state().sensor.value + noise_.value * scatter(kFluidStream);
}

double Drivetrain::value(Quantity quantity) const {
  const double ambient = ambient_.value;
  const double coolant = thermal_.state().coolant.value;
  switch (quantity) {
    case Quantity::fluid_temperature:
      return sensor_ == SensorState::works || sensor_ == SensorState::dead ? felt_fluid_c() : shown_c_;
    case Quantity::coolant_temperature: return coolant;
    case Quantity::engine_oil_temperature: return ambient + kOilShare * (coolant - ambient);
    case Quantity::intake_air_temperature: return ambient + kIntakeShare * (coolant - ambient);
    case Quantity::ambient_temperature: return ambient;
    case Quantity::engine_speed:
      return engine_runs_ ? std::max(engine_rpm() + kRpmRipple * scatter(kRpmStream), 0.0) : 0.0;
    case Quantity::vehicle_speed: return vehicle_km_h_;
    case Quantity::engine_load:
      if (!engine_runs_) return 0;
      return selector_ == SelectorPosition::park || selector_ == SelectorPosition::neutral
                 ? kLoadPark_percent
                 : kLoadDrive_percent;
    case Quantity::throttle_position: return kThrottleIdle_percent + kThrottlePerKmh_percent * vehicle_km_h_;
    case Quantity::module_voltage:
      return volts_held_.value_or(engine_runs_ ? kRunningVoltage : kStandingVoltage);
    case Quantity::engine_run_time: return engine_runs_ ? in_seconds(now_ - engine_started_) : 0.0;
    case Quantity::odometer: return odometer_km_;
    case Quantity::selector_position: return static_cast<double>(selector_);
    case Quantity::actual_gear:
      if (selector_ != SelectorPosition::drive) return 0;
      return std::min(1 + static_cast<int>(vehicle_km_h_ / kKmhPerGear), kGears);
  }
  return 0;  // not reached: every Quantity is above
}

}  // namespace sumplog
