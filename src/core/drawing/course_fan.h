#pragma once
#include <optional>
#include <vector>

#include "core/drawing/thinned_course.h"
#include "core/job/job_settings.h"
#include "core/journal/event.h"

namespace sumplog {

/// What is forecast of a fluid on its way through the window.
struct CourseFan {
  using Point = ThinnedCourse::Point;
  std::vector<Point> outline;  ///< of the 80 %: from now, early to the far edge, and late back
  std::vector<Point> likely;   ///< from now to the start and to the end of the window
  TimePoint ends{};            ///< the latest moment that is told, not behind the horizon
};

/// The 10 and 90 % quantiles of start and stay, laid end to end: a fluid that warms slowly comes late and stays long, so the end of
/// the window has about the same 80 % (too wide a fan where that does not hold, never too narrow a one). "Never" is ten days
/// away.
/// in   horizon  how far a picture may reach
/// out  nothing: nothing is forecast
[[nodiscard]] std::optional<CourseFan> course_fan(const ThermalEvent& thermal,
                                                  const TemperatureWindow& window, TimePoint horizon);

}  // namespace sumplog
