#pragma once
#include <optional>
#include <span>

namespace sumplog {

struct WeightedValue {
  double value = 0;
  double weight = 0;
};

/// An element without a value is "never".
struct FourQuantiles {
  std::optional<double> p05, p10, p50, p90;
};

/// 5, 10, 50 and 90 %: the smallest value whose share of the weight, with all smaller ones, reaches it.
/// in   values  finite, weights >= 0; sorted by the call
///      never   weight of what has no value: it lies above all values
/// out  nothing when there is no weight
/// src  quantile of a discrete distribution: any textbook of statistics
[[nodiscard]] std::optional<FourQuantiles> quantiles(std::span<WeightedValue> values, double never);

}  // namespace sumplog
