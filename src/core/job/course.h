#pragma once
#include <deque>
#include <optional>

#include "core/item/time.h"

namespace sumplog {

/// What temperature and engine did, second by second, for as long as an entry may come late or the plug is out. Constant memory:
/// of more seconds the two oldest are put together.
class Course {
 public:
  /// The unit's reading, whether it is believed or not.
  void on_measured(TimePoint at, double value_c);
  /// What the fluid is believed to be, and how fast it changes.
  void on_fluid(TimePoint at, double value_c, std::optional<double> rate_c_per_min);
  void on_engine(TimePoint at, double rpm);
  void forget_before(TimePoint at);

  struct Span {
    std::optional<double> low_c;
    std::optional<double> high_c;
    std::optional<double> rate_c_per_min;  ///< the last one
    std::optional<double> mean_rpm;
  };
  [[nodiscard]] Span between(TimePoint from, TimePoint to) const;
  /// The first believed reading from `from` to `to` that is `value_c` or more.
  [[nodiscard]] std::optional<double> first_from(double value_c, TimePoint from, TimePoint to) const;
  /// The unit's reading then, if one was at most `fresh` old.
  [[nodiscard]] std::optional<double> measured_at(TimePoint at, Duration fresh) const;

 private:
  struct Second {
    TimePoint from{};
    Span fluid{};
    std::optional<double> measured_c;  ///< the last one
    TimePoint measured_at{};
    double rpm_sum = 0;
    double readings = 0;  ///< of the engine speed
  };
  Second& second_of(TimePoint at);
  static void join(Second& into, const Second& later);

  std::deque<Second> all_;
  std::optional<double> last_measured_c_;
  TimePoint last_measured_at_{};
};

}  // namespace sumplog
