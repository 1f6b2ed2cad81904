#include "core/job/recent_readings.h"

#include <algorithm>
#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kKept = 11min;    // entries are at most ten minutes late
constexpr std::size_t kMost = 1320;  // two a second for so long; a faster unit keeps less of the past

}  // namespace

void RecentReadings::add(TimePoint at, double value_c, Duration holds) {
  // The same value again only lasts longer.
  if (!all_.empty() && all_.back().value_c == value_c && at <= all_.back().until && at >= all_.back().at)
    all_.back().until = std::max(all_.back().until, at + holds);
  else
    all_.push_back({at, at + holds, value_c});
  while (all_.size() > kMost || all_.front().until < at - kKept) all_.pop_front();
}

std::optional<double> RecentReadings::at(TimePoint time) const {
  for (auto one = all_.rbegin(); one != all_.rend(); ++one)
    if (one->at <= time && time <= one->until) return one->value_c;
  return std::nullopt;
}

}  // namespace sumplog
