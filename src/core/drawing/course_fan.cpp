#include "core/drawing/course_fan.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace sumplog {
namespace {

enum Quantile : std::size_t { kEarly = 0, kLikely = 1, kLate = 2 };

// "Never", and what is as good as that: far beyond every picture.
constexpr double kNever_s = 10 * 86400.0;

TimePoint after(TimePoint at, const std::optional<double>& seconds) {
  return at + Duration{std::llround(std::min(seconds.value_or(kNever_s), kNever_s) * 1e6)};
}

}  // namespace

std::optional<CourseFan> course_fan(const ThermalEvent& thermal, const TemperatureWindow& window,
                                    TimePoint horizon) {
  const bool outside = thermal.window == WindowState::below || thermal.window == WindowState::above;
  if (!thermal.temp_c || (!outside && thermal.window != WindowState::inside)) return std::nullopt;
  const std::optional<Quantiles>& next = outside ? thermal.enter_in_s : thermal.stay_s;
  if (!next || !(*next)[kEarly]) return std::nullopt;

  const bool rises = outside ? thermal.window == WindowState::below : thermal.rate_c_per_min.value_or(0) >= 0;
  const double near = rises ? window.low.value : window.high.value;
  const double far = rises ? window.high.value : window.low.value;

  CourseFan fan;
  const CourseFan::Point now{thermal.at, *thermal.temp_c};
  fan.outline.push_back(now);
  fan.likely.push_back(now);
  const auto moments = [&](TimePoint from_early, TimePoint from_likely, TimePoint from_late,
                           const Quantiles& in_s) {
    return std::array<TimePoint, 3>{after(from_early, in_s[kEarly]), after(from_likely, in_s[kLikely]),
                                    after(from_late, in_s[kLate])};
  };
  std::array<TimePoint, 3> last = moments(now.at, now.at, now.at, *next);
  const double first_edge = outside ? near : far;
  fan.outline.push_back({last[kEarly], first_edge});
  if ((*next)[kLikely]) fan.likely.push_back({last[kLikely], first_edge});
  CourseFan::Point corner{last[kLate], first_edge};
  if (outside && thermal.stay_s && (*thermal.stay_s)[kEarly]) {
    const Quantiles& stay = *thermal.stay_s;
    last = moments(last[kEarly], last[kLikely], last[kLate], stay);
    fan.outline.push_back({last[kEarly], far});
    fan.outline.push_back({last[kLate], far});
    if ((*next)[kLikely] && stay[kLikely]) fan.likely.push_back({last[kLikely], far});
  }
  fan.outline.push_back(corner);
  fan.ends = std::min(last[kLate], horizon);
  return fan;
}

}  // namespace sumplog
