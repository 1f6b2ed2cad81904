#pragma once
#include <span>

namespace sumplog {

struct LinePoint {
  double x = 0;
  double y = 0;
};

/// y = at_zero + slope * x
struct FittedLine {
  double slope = 0;
  double at_zero = 0;
  double squares_x = 0;         ///< sum of squares of x about its mean
  double squares_residual = 0;  ///< sum of squares of what the line leaves
};

/// Straight line by least squares.
/// in   points  at least two, of different x
/// out  line    in the units of the points
/// src  least squares: any textbook of statistics; checked against NIST StRD Norris
[[nodiscard]] FittedLine fit_line(std::span<const LinePoint> points);

}  // namespace sumplog
