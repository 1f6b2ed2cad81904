#include "core/thermal/truncated_normal.h"

#include <algorithm>
#include <cassert>

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

constexpr double kFarReduction = 0.8;  // own choice: an outlier narrows, but never to a point

}  // namespace

Truncation truncated(double mean, double sd, double low, double high) {
  assert(sd > 0 && low < high);
  const double a = (low - mean) / sd;
  const double b = (high - mean) / sd;
  const StandardNormal at_a = standard_normal(a);
  const StandardNormal at_b = standard_normal(b);
  const double probability = at_b.below - at_a.below;
  if (probability < kLeastProbability) {
    const double edge = a > 0 ? a + 1 / std::max(a, 1.0) : b + 1 / std::min(b, -1.0);
    return {kLeastProbability, edge, kFarReduction};
  }
  const double shift = (at_a.density - at_b.density) / probability;
  const double left = 1 + (a * at_a.density - b * at_b.density) / probability - shift * shift;
  return {probability, shift, 1 - std::clamp(left, 0.0, 1.0)};
}

}  // namespace sumplog
