#pragma once
#include <array>
#include <cstdint>

#include "core/item/time.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// Figures of the simulated vehicle's heat paths. The defaults are invented so that the rates of rise and the
/// cool-down times lie where workshops report them; they describe no real vehicle.
struct ThermalParameters {
  double fluid_l = 10;
  double fluid_j_per_k_per_l = 1777;     ///< 0.85 kg/l × 2090 J/(kg K), mineral gear oil
  double case_j_per_k = 40000;           ///< housing, converter and gears, about 60 kg of metal
  double engine_j_per_k = 62000;         ///< coolant and the metal that it wets
  double fluid_case_w_per_k = 75;        ///< pump running
  double fluid_case_still_w_per_k = 25;  ///< engine off: natural convection only
  double case_air_w_per_k = 10;
  double engine_air_w_per_k = 11;
  double engine_case_w_per_k = 6;  ///< bell housing
  double warmer_w_per_k = 0;       ///< oil/water heat exchanger; 0: the vehicle has none
  double cooler_w_per_k = 90;      ///< oil/air cooler behind the bypass thermostat
  double bypass_opens_c = 78;      ///< below: no flow through the cooler line
  double bypass_full_c = 83;
  double engine_thermostat_opens_c = 86;
  double engine_thermostat_full_c = 94;
  double radiator_w_per_k = 320;
  double engine_heat_w = 6200;       ///< into the coolant, at idle speed
  double fluid_heat_park_w = 430;    ///< pump and drag in P or N, at idle speed
  double fluid_heat_drive_w = 850;   ///< converter held on the brake in D or R, at idle speed
  double idle_rpm = 700;             ///< the speed for which the heat figures hold; heat grows in proportion
  double fan_factor = 2.8;           ///< how much more a big fan under the car takes away
  double air_stream_per_kmh = 0.05;  ///< how much more the air stream takes away, for each km/h
  double sensor_lag_s = 5;           ///< first-order lag of the fluid sensor; 0: none
};

/// What drives the heat at the moment.
struct ThermalInput {
  Celsius ambient{20};
  bool engine_running = false;
  double engine_rpm = 0;
  bool in_gear = false;  ///< D or R
  double speed_kmh = 0;
  bool fan = false;
};

struct ThermalState {
  Celsius fluid{20};
  Celsius housing{20};
  Celsius coolant{20};
  Celsius sensor{20};  ///< what the fluid sensor feels, before the unit rounds it
};

/// Fluid, case and engine as three bodies that exchange heat; Newton's law of cooling on each path.
/// Integrated by Runge-Kutta of order 4 on a fixed grid, with + − × ÷ alone: equal bits on every machine.
class ThermalModel {
 public:
  static constexpr Duration kStep{100'000};  ///< grid of the integration; the fastest path has about 60 s

  /// in  start  when `state` holds; the grid starts here
  ThermalModel(const ThermalParameters& parameters, const ThermalState& state, TimePoint start);

  /// Integrates up to the last grid point at or before `at`; an earlier time changes nothing.
  void advance_to(TimePoint at);
  /// Holds from the next grid step on; advance first.
  void set_input(const ThermalInput& input) { input_ = input; }
  [[nodiscard]] const ThermalInput& input() const { return input_; }

  /// Mixes fluid in: the metal keeps its heat and gives it back afterwards.
  /// in  litres  > 0; how warm the new fluid is
  void add_fluid(double litres, Celsius temperature);
  /// Takes fluid out. Less than kLeastFluid_l never stays: the rest clings to the metal.
  void drain_fluid(double litres);

  static constexpr double kLeastFluid_l = 1;
  [[nodiscard]] double fluid_l() const { return parameters_.fluid_l; }
  [[nodiscard]] const ThermalState& state() const { return state_; }
  [[nodiscard]] const ThermalParameters& parameters() const { return parameters_; }

 private:
  using Vector = std::array<double, 4>;               // fluid, case, coolant, sensor, in °C
  [[nodiscard]] Vector slope(const Vector& c) const;  // K/s
  void step();

  ThermalParameters parameters_;
  ThermalInput input_;
  ThermalState state_;
  TimePoint at_;
};

}  // namespace sumplog
