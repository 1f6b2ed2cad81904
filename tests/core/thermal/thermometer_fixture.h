#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>

#include "core/thermal/thermometer.h"

namespace sumplog::testing {

inline constexpr TimePoint kThermalStart = at_micros(1700000000000000);

inline ThermometerConfig thermometer_config(double step_c = 1, Rounding rounding = Rounding::round) {
  ThermometerConfig c;
  c.step = {step_c};
  c.rounding = rounding;
  c.window = TemperatureWindow{{35}, {45}};
  c.minimum_stay = std::chrono::seconds{120};
  return c;
}

/// What a sensor of this step shows of a temperature.
inline double shown(double t_c, const ThermometerConfig& c) {
  const double steps = t_c / c.step.value;
  return (c.rounding == Rounding::floor ? std::floor(steps) : std::floor(steps + 0.5)) * c.step.value;
}

/// A thermometer that is fed a course of the fluid as a control unit would show it.
class Fed {
 public:
  explicit Fed(const ThermometerConfig& c = thermometer_config()) : config_(c), thermometer_(c) {}

  Fed& reading(double value, double later_s = 1) {
    if (begun_) now_s_ += later_s;
    begun_ = true;
    last_ = thermometer_.on_reading(kThermalStart + Duration{std::llround(now_s_ * 1e6)}, Celsius{value});
    return *this;
  }
  /// Readings of `course` (of the seconds since the first reading, °C) for so long.
  Fed& course(const std::function<double(double)>& course, double length_s, double every_s = 1) {
    if (!begun_) reading(shown(course(0), config_));
    for (double gone = every_s; gone <= length_s + 1e-9; gone += every_s)
      reading(shown(course(now_s_ + every_s), config_), every_s);
    return *this;
  }
  Fed& announce(Announcement what) {
    thermometer_.announce(what);
    return *this;
  }
  [[nodiscard]] ThermalEstimate now() const {
    EXPECT_TRUE(thermometer_.estimate());
    return thermometer_.estimate().value_or(ThermalEstimate{});
  }
  [[nodiscard]] WindowState side() const { return now().side.value_or(WindowState::unknown); }
  [[nodiscard]] double now_s() const { return now_s_; }
  [[nodiscard]] Intake last() const { return last_; }

 private:
  ThermometerConfig config_;
  Thermometer thermometer_;
  double now_s_ = 0;
  bool begun_ = false;
  Intake last_ = Intake::restart;
};

inline std::function<double(double)> line(double from_c, double c_per_min) {
  return [=](double s) { return from_c + c_per_min / 60 * s; };
}
/// Newton's law: T(t) = Tinf + (T0 − Tinf) exp(−t / tau)
inline std::function<double(double)> newton(double t0_c, double tinf_c, double tau_s) {
  return [=](double s) { return tinf_c + (t0_c - tinf_c) * std::exp(-s / tau_s); };
}

inline double or_never(const std::optional<double>& s) {
  return s.value_or(std::numeric_limits<double>::infinity());
}

}  // namespace sumplog::testing
