#include "core/learn/timed_values.h"

#include <algorithm>
#include <chrono>

namespace sumplog {
namespace {

constexpr Duration kSpacing = std::chrono::seconds{1};  // own choice, as PayloadSeries

}  // namespace

void TimedValues::add(TimePoint at, double value) {
  if (!times_.empty() && at - times_.back() < kSpacing) return;
  times_.push_back(at);
  values_.push_back(value);
}

std::optional<double> TimedValues::at(TimePoint time) const {
  const auto behind = std::lower_bound(times_.begin(), times_.end(), time);
  if (behind == times_.end()) return std::nullopt;
  const auto right = static_cast<std::size_t>(behind - times_.begin());
  if (*behind == time) return values_[right];
  if (right == 0) return std::nullopt;
  const Duration gap = times_[right] - times_[right - 1];
  if (gap > kWidestGap) return std::nullopt;
  const double share = in_seconds(time - times_[right - 1]) / in_seconds(gap);
  return values_[right - 1] + share * (values_[right] - values_[right - 1]);
}

std::optional<double> TimedValues::near(TimePoint time, Duration reach) const {
  if (const auto value = at(time)) return value;
  const auto behind = std::lower_bound(times_.begin(), times_.end(), time);
  std::optional<double> nearest;
  Duration least = reach;
  if (behind != times_.end() && *behind - time <= least) {
    least = *behind - time;
    nearest = values_[static_cast<std::size_t>(behind - times_.begin())];
  }
  if (behind != times_.begin() && time - *(behind - 1) <= least)
    nearest = values_[static_cast<std::size_t>(behind - times_.begin()) - 1];
  return nearest;
}

double TimedValues::low() const {
  return *std::min_element(values_.begin(), values_.end());
}

double TimedValues::high() const {
  return *std::max_element(values_.begin(), values_.end());
}

}  // namespace sumplog
