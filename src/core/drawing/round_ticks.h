#pragma once
#include <string>
#include <vector>

namespace sumplog {

/// Round places along an axis.
struct RoundTicks {
  double step = 1;
  int decimals = 0;            ///< that the step needs
  std::vector<double> places;  ///< multiples of the step from `low` to `high`, both included
};

/// in   low < high; most  of the places, 2 at least
/// out  steps of 1, 2 or 5 times a power of ten
[[nodiscard]] RoundTicks round_ticks(double low, double high, int most);

/// The same for times since the start: 1, 2, 5, 10, 20, 30 seconds, minutes, then hours.
/// in   low, high  seconds
[[nodiscard]] RoundTicks round_times(double low_s, double high_s, int most);

/// "7" minutes, "7:30" where the step is not a whole minute.
[[nodiscard]] std::string minutes_text(double seconds, double step_s);

}  // namespace sumplog
