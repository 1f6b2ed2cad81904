#pragma once

namespace sumplog {

/// What is known of a normal quantity once it is known to lie in an interval.
struct Truncation {
  double probability = 1;  ///< of the interval before; at least kLeastProbability
  double shift = 0;        ///< of the mean, in standard deviations
  double reduction = 0;    ///< share of the variance that is gone, 0…1
};

/// Below it the interval lies so far out that the moments are those of the near edge.
inline constexpr double kLeastProbability = 1e-9;
/// From it on the interval says nothing new.
inline constexpr double kNothingNew = 0.999;

/// First two moments of a normal distribution cut to [low, high].
/// in   sd  > 0; low < high
/// out  see Truncation; far outside: the near edge, and a fifth of the variance stays
/// src  truncated normal distribution, Johnson, Kotz, Balakrishnan: Continuous Univariate Distributions 1, 10.1
[[nodiscard]] Truncation truncated(double mean, double sd, double low, double high);

}  // namespace sumplog
