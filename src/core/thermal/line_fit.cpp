#include "core/thermal/line_fit.h"

#include <algorithm>
#include <cassert>

namespace sumplog {

FittedLine fit_line(std::span<const LinePoint> points) {
  const auto n = static_cast<double>(points.size());
  double mean_x = 0;
  double mean_y = 0;
  for (const LinePoint& p : points) {
    mean_x += p.x / n;
    mean_y += p.y / n;
  }
  double xx = 0;
  double xy = 0;
  double yy = 0;
  for (const LinePoint& p : points) {
    const double dx = p.x - mean_x;
    const double dy = p.y - mean_y;
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  assert(xx > 0);
  FittedLine line;
  line.slope = xy / xx;
  line.at_zero = mean_y - line.slope * mean_x;
  line.squares_x = xx;
  line.squares_residual = std::max(0.0, yy - line.slope * xy);
  return line;
}

}  // namespace sumplog
