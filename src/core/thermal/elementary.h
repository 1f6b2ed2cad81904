#pragma once

namespace sumplog {

// The core's own exponential, logarithm and normal distribution. They use + − × ÷ and bit patterns alone, in
// a fixed order: the last digit is the same on every machine, and a job replays to the same journal.

/// e to the power of x, to about one unit in the last place.
/// in   x  any number; below −708 the answer is 0, above 709 infinity
/// src  Taylor series after reduction by multiples of ln 2
[[nodiscard]] double exp_of(double x);

/// Natural logarithm, to about one unit in the last place.
/// in   x  > 0 and finite (assert)
/// src  ln((1+s)/(1−s)) = 2 (s + s³/3 + s⁵/5 + …); Abramowitz and Stegun 4.1.27
[[nodiscard]] double log_of(double x);

/// Density and distribution function of the standard normal distribution at one place.
struct StandardNormal {
  double density = 0;
  double below = 0;  ///< probability of a value below it
};

/// in   z  any number
/// out  both, to 1e-15 absolutely; `below` to 1e-13 of its own size in the lower tail
/// src  Abramowitz and Stegun 26.2; the Chebyshev coefficients of erfc were computed for this program
[[nodiscard]] StandardNormal standard_normal(double z);

}  // namespace sumplog
