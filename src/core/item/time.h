#pragma once
#include <chrono>
#include <cstdint>

namespace sumplog {

/// Job time: microseconds since the Unix epoch, truncated where a time enters the program.
/// It has no now(): inside the core, time is an argument.
struct JobClock {
  using rep = std::int64_t;
  using period = std::micro;
  using duration = std::chrono::duration<rep, period>;
  using time_point = std::chrono::time_point<JobClock>;
  static constexpr bool is_steady = false;
};

using Duration = JobClock::duration;
using TimePoint = JobClock::time_point;

/// Whole microseconds since the epoch of the input (Unix epoch; for a CSV the column's own zero).
[[nodiscard]] constexpr std::int64_t micros(TimePoint at) {
  return at.time_since_epoch().count();
}
[[nodiscard]] constexpr TimePoint at_micros(std::int64_t us) {
  return TimePoint{Duration{us}};
}
/// Years 1700 to 2239: a foreign capture may hold any time; what lies between can be added to and subtracted without overflow.
inline constexpr TimePoint kEarliestTime = at_micros(-8500000000000000);
inline constexpr TimePoint kLatestTime = at_micros(8500000000000000);

[[nodiscard]] constexpr double in_seconds(Duration d) {
  return static_cast<double>(d.count()) * 1e-6;
}

}  // namespace sumplog
