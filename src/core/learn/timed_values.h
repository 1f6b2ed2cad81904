#pragma once
#include <optional>
#include <vector>

#include "core/item/time.h"

namespace sumplog {

/// A quantity in the course of a capture: values at rising times.
class TimedValues {
 public:
  /// At most one a second is kept.
  void add(TimePoint at, double value);
  [[nodiscard]] bool empty() const { return times_.empty(); }
  [[nodiscard]] std::size_t size() const { return times_.size(); }
  [[nodiscard]] TimePoint time(std::size_t index) const { return times_[index]; }
  [[nodiscard]] double value(std::size_t index) const { return values_[index]; }
  /// On the straight line between the two neighbours; nothing before the first, behind the last, and in a gap of more than
  /// kWidestGap.
  [[nodiscard]] std::optional<double> at(TimePoint time) const;
  /// Like at(), and where that says nothing the nearest value within `reach`.
  [[nodiscard]] std::optional<double> near(TimePoint time, Duration reach = kLongestPass) const;
  [[nodiscard]] double low() const;
  [[nodiscard]] double high() const;

  static constexpr Duration kLongestPass =
      std::chrono::seconds{70};  // own choice: one pass through 500 identifiers
  static constexpr Duration kWidestGap = std::chrono::seconds{130};  // own choice: nearly two of them

 private:
  std::vector<TimePoint> times_;
  std::vector<double> values_;
};

}  // namespace sumplog
