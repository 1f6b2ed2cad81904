#pragma once
#include <algorithm>

#include "core/item/time.h"

namespace sumplog {

/// Job time of another program, as one who follows it knows it. It errs to the late side, so that no age is told too small; the
/// page does the same (clock.js).
class FollowedTime {
 public:
  /// The program said `t_s` when it was asked; it may have been that late already.
  /// in   asked  of a clock that goes on while the machine sleeps
  void set(double t_s, TimePoint asked) {
    t_s_ = t_s;
    at_ = asked;
  }
  /// A line of time `t_s` has come: it is at least so late.
  void not_before(double t_s, TimePoint now) {
    if (t_s > now_s(now)) set(t_s, now);
  }
  [[nodiscard]] double now_s(TimePoint now) const { return t_s_ + std::max(0.0, in_seconds(now - at_)); }

 private:
  double t_s_ = 0;
  TimePoint at_{};
};

}  // namespace sumplog
