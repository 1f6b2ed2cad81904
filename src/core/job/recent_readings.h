#pragma once
#include <deque>
#include <optional>

#include "core/item/time.h"

namespace sumplog {

/// The believed readings of the last ten minutes: what the fluid was when something happened that is entered
/// late.
class RecentReadings {
 public:
  /// in   holds  how long it stands for the fluid
  void add(TimePoint at, double value_c, Duration holds);
  /// out  nothing: no reading stood for the fluid then
  [[nodiscard]] std::optional<double> at(TimePoint time) const;

 private:
  struct One {
    TimePoint at{};
    TimePoint until{};
    double value_c = 0;
  };
  std::deque<One> all_;
};

}  // namespace sumplog
