#include "core/vehicle/thermal_model.h"

#include <algorithm>
#include <cassert>

namespace sumplog {
namespace {

/// How far a thermostat stands open: 0 below `opens`, 1 above `full`, straight between.
double opening(double temperature_c, double opens_c, double full_c) {
  return std::clamp((temperature_c - opens_c) / (full_c - opens_c), 0.0, 1.0);
}

}  // namespace

ThermalModel::ThermalModel(const ThermalParameters& parameters, const ThermalState& state, TimePoint start)
    : parameters_(parameters), state_(state), at_(start) {
  assert(parameters.fluid_l > 0 && parameters.bypass_full_c > parameters.bypass_opens_c &&
         parameters.engine_thermostat_full_c > parameters.engine_thermostat_opens_c);
}

ThermalModel::Vector ThermalModel::slope(const Vector& c) const {
  const ThermalParameters& p = parameters_;
  const auto [fluid, housing, coolant, sensor] = c;
  const double ambient = input_.ambient.value;
  const bool runs = input_.engine_running;
  const double speed = runs ? input_.engine_rpm / p.idle_rpm : 0.0;
  const double air = (input_.fan ? p.fan_factor : 1.0) + p.air_stream_per_kmh * input_.speed_kmh;

  const double fluid_to_case = (runs ? p.fluid_case_w_per_k : p.fluid_case_still_w_per_k) * (fluid - housing);
  const double case_to_air = p.case_air_w_per_k * air * (housing - ambient);
  const double engine_to_air = p.engine_air_w_per_k * air * (coolant - ambient);
  const double engine_to_case = p.engine_case_w_per_k * (coolant - housing);
  // Both heat exchangers need the transmission's pump, and that turns with the engine.
  const double coolant_to_fluid = runs ? p.warmer_w_per_k * (coolant - fluid) : 0.0;
  const double fluid_to_cooler =
      runs ? p.cooler_w_per_k * opening(fluid, p.bypass_opens_c, p.bypass_full_c) * air * (fluid - ambient)
           : 0.0;
  const double coolant_to_radiator =
      runs ? p.radiator_w_per_k * opening(coolant, p.engine_thermostat_opens_c, p.engine_thermostat_full_c) *
                 (coolant - ambient)
           : 0.0;
  const double made_in_fluid = speed * (input_.in_gear ? p.fluid_heat_drive_w : p.fluid_heat_park_w);
  const double made_in_engine = speed * p.engine_heat_w;

  const double fluid_j_per_k = p.fluid_l * p.fluid_j_per_k_per_l;
  return {(made_in_fluid + coolant_to_fluid - fluid_to_case - fluid_to_cooler) / fluid_j_per_k,
          (fluid_to_case + engine_to_case - case_to_air) / p.case_j_per_k,
          (made_in_engine - coolant_to_fluid - engine_to_case - engine_to_air - coolant_to_radiator) /
              p.engine_j_per_k,
          p.sensor_lag_s > 0 ? (fluid - sensor) / p.sensor_lag_s : 0.0};
}

void ThermalModel::step() {
  const double h = in_seconds(kStep);
  const auto moved = [](const Vector& from, const Vector& along, double by) {
    Vector to{};
    for (std::size_t i = 0; i < to.size(); ++i) to[i] = from[i] + along[i] * by;
    return to;
  };
  const Vector c{state_.fluid.value, state_.housing.value, state_.coolant.value, state_.sensor.value};
  const Vector k1 = slope(c);
  const Vector k2 = slope(moved(c, k1, h / 2));
  const Vector k3 = slope(moved(c, k2, h / 2));
  const Vector k4 = slope(moved(c, k3, h));
  Vector next{};
  for (std::size_t i = 0; i < next.size(); ++i) {
    next[i] = c[i] + h / 6 * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i]);
  }
  if (parameters_.sensor_lag_s <= 0) next[3] = next[0];
  state_ = {{next[0]}, {next[1]}, {next[2]}, {next[3]}};
}

void ThermalModel::advance_to(TimePoint at) {
  while (at_ + kStep <= at) {
    step();
    at_ += kStep;
  }
}

void ThermalModel::add_fluid(double litres, Celsius temperature) {
  assert(litres > 0);
  const double before_l = parameters_.fluid_l;
  parameters_.fluid_l = before_l + litres;
  state_.fluid.value = (state_.fluid.value * before_l + temperature.value * litres) / parameters_.fluid_l;
}

void ThermalModel::drain_fluid(double litres) {
  assert(litres > 0);
  parameters_.fluid_l = std::max(parameters_.fluid_l - litres, kLeastFluid_l);
}

}  // namespace sumplog
