#include "core/thermal/newton_course.h"

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

constexpr double kNearlyReached = 0.9999;  // of the way to the final temperature: it takes for ever
constexpr double kNearlyStraight = 1e-4;   // of it: the logarithm would lose digits

}  // namespace

std::optional<double> NewtonCourse::time_to(double target_c) const {
  const double distance = target_c - t_c;
  if (distance == 0) return 0;
  if (r == 0 || distance * r < 0) return std::nullopt;
  const double u = distance * k / r;
  if (u >= kNearlyReached) return std::nullopt;
  if (u < kNearlyStraight) return distance / r * (1 + u / 2);
  return -log_of(1 - u) / k;
}

Visit visit(const NewtonCourse& course, const TemperatureWindow& window) {
  const double low = window.low.value;
  const double high = window.high.value;
  if (course.t_c >= low && course.t_c <= high) {
    if (course.r == 0) return {0.0, std::nullopt};
    return {0.0, course.time_to(course.r > 0 ? high : low)};
  }
  const bool below = course.t_c < low;
  Visit v;
  v.enter_s = course.time_to(below ? low : high);
  if (!v.enter_s) return v;
  v.stay_s = course.time_to(below ? high : low);
  if (v.stay_s) *v.stay_s -= *v.enter_s;
  return v;
}

}  // namespace sumplog
