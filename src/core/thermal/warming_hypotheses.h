#pragma once
#include <array>
#include <cstddef>
#include <span>

#include "core/thermal/sensor_cell.h"
#include "core/thermal/truncated_normal.h"

namespace sumplog {

/// One assumption of how the fluid warms: dT/dt = r, dr/dt = −k r, with what is not known about it.
struct Hypothesis {
  double t_c = 0;
  double r = 0;  ///< °C/s
  double k = 0;  ///< 1/s
  // covariance
  double tt = 0, tr = 0, tk = 0, rr = 0, rk = 0, kk = 0;
  double weight = 0;
  double evidence =
      1;  ///< what the plateau since the last change of the reading says; weighed in at the next

  [[nodiscard]] double share() const { return weight * evidence; }
  /// Takes in that T lies in the cell.
  void commit(const Truncation& cut, double sd);
};

/// Moments of the rate over all hypotheses.
struct RateMoments {
  double mean = 0;      ///< °C/s
  double variance = 0;  ///< of the mixture
};

/// A Gaussian sum over warming laws. Between two changes of a coarse reading only an inequality is known; at a
/// change T is the edge between two cells. A small part always stands for a course that has just changed, and
/// one weight for a sensor that is frozen. Constant memory.
/// src  own research: docs/thermometer.md
class WarmingHypotheses {
 public:
  static constexpr std::size_t kMost = 20;

  /// Begins anew in the cell of one reading.
  void restart(const SensorCell& cell);
  /// Time goes on by `seconds` >= 0.
  void advance(double seconds);
  /// A reading finer than the sensor's noise.
  /// in   mean_c  mean of the readings since the last tick, with the rounding taken out
  void take_fine(double mean_c, double step_c);
  /// A coarse reading.
  /// in   before_c  reading of the tick before; `seconds` after it
  void take_coarse(const SensorCell& cell, double before_c, double seconds);
  /// Hypotheses of a changed course join.
  /// in   changed  probability that the course changed since the last call
  ///      frozen   probability that the sensor froze since then
  void branch(const SensorCell& cell, double changed, double frozen);

  [[nodiscard]] std::span<const Hypothesis> all() const { return std::span(hypotheses_).first(count_); }
  [[nodiscard]] double total() const;
  /// Probability, 0…1, that the sensor is frozen; a fluid that stands still looks the same.
  [[nodiscard]] double frozen() const;
  [[nodiscard]] RateMoments rate() const;

 private:
  void normalise();
  void prune();
  void add(const Hypothesis& one);

  std::array<Hypothesis, kMost> hypotheses_{};
  std::size_t count_ = 0;
  double frozen_ = 0;
};

}  // namespace sumplog
