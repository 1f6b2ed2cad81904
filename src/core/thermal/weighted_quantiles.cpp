#include "core/thermal/weighted_quantiles.h"

#include <algorithm>

namespace sumplog {
namespace {

constexpr double kRounding = 1e-7;  // of p: sums of many weights do not reach it exactly

}  // namespace

std::optional<FourQuantiles> quantiles(std::span<WeightedValue> values, double never) {
  // By value and then by weight: the sums come out the same whatever the library's sort does with ties.
  std::sort(values.begin(), values.end(), [](const WeightedValue& a, const WeightedValue& b) {
    return a.value < b.value || (a.value == b.value && a.weight < b.weight);
  });
  double total = never;
  for (const WeightedValue& v : values) total += v.weight;
  if (total <= 0) return std::nullopt;
  FourQuantiles q;
  double sum = 0;
  for (const WeightedValue& v : values) {
    if (v.weight <= 0) continue;
    sum += v.weight;
    const double share = sum / total + kRounding;
    if (!q.p05 && share >= 0.05) q.p05 = v.value;
    if (!q.p10 && share >= 0.1) q.p10 = v.value;
    if (!q.p50 && share >= 0.5) q.p50 = v.value;
    if (share < 0.9) continue;
    q.p90 = v.value;
    break;
  }
  return q;
}

}  // namespace sumplog
