#pragma once
#include <algorithm>
#include <optional>

#include "core/item/time.h"

namespace sumplog {

/// How long to wait before a link that went bus-off is taken up again: longer each time, from the start again
/// after it has stood for a while. src  ISO 11898-1 bus-off recovery; times: own choice
class RestartDelay {
 public:
  static constexpr Duration kFirst = std::chrono::seconds{1};
  static constexpr Duration kMost = std::chrono::seconds{60};
  static constexpr Duration kGood = std::chrono::seconds{60};  ///< stood for so long: forgotten

  /// Bus-off at `now`. out  when to restart
  TimePoint on_bus_off(TimePoint now) {
    if (last_ && now - *last_ > wait_ + kGood) wait_ = Duration{};
    last_ = now;
    wait_ = wait_ == Duration{} ? kFirst : std::min(wait_ * 2, kMost);
    return now + wait_;
  }

 private:
  Duration wait_{};
  std::optional<TimePoint> last_;
};

}  // namespace sumplog
