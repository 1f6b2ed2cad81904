#pragma once
#include <optional>

#include "core/decoder/service_file.h"

namespace sumplog {

/// A course by Newton's law: T(t) = T + r/k (1 − exp(−k t)).
struct NewtonCourse {
  double t_c = 0;
  double r = 0;  ///< °C/s, now
  double k = 0;  ///< 1/s, > 0

  /// Seconds until `target_c`; nothing: never.
  /// src  Newton's law of cooling; t = −ln(1 − k d / r) / k
  [[nodiscard]] std::optional<double> time_to(double target_c) const;
};

/// When a course comes into a window and how long it stays; inside, what is left of it.
struct Visit {
  std::optional<double> enter_s;  ///< nothing: never
  std::optional<double> stay_s;   ///< nothing: never ends, or never entered
};
[[nodiscard]] Visit visit(const NewtonCourse& course, const TemperatureWindow& window);

}  // namespace sumplog
