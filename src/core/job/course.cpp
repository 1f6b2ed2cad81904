#include "core/job/course.h"

#include <algorithm>

namespace sumplog {
namespace {

constexpr std::size_t kMost = 660;  // eleven minutes: entries are at most ten minutes late
constexpr Duration kSecond = std::chrono::seconds{1};

void widen(Course::Span& span, const std::optional<double>& low, const std::optional<double>& high) {
  if (low) span.low_c = std::min(span.low_c.value_or(*low), *low);
  if (high) span.high_c = std::max(span.high_c.value_or(*high), *high);
}

}  // namespace

void Course::join(Second& into, const Second& later) {
  widen(into.fluid, later.fluid.low_c, later.fluid.high_c);
  if (later.fluid.rate_c_per_min) into.fluid.rate_c_per_min = later.fluid.rate_c_per_min;
  if (later.measured_c) {
    into.measured_c = later.measured_c;
    into.measured_at = later.measured_at;
  }
  into.rpm_sum += later.rpm_sum;
  into.readings += later.readings;
}

Course::Second& Course::second_of(TimePoint at) {
  if (!all_.empty() && at - all_.back().from < kSecond) return all_.back();
  all_.emplace_back();
  all_.back().from = at;
  if (all_.size() > kMost) {
    join(all_[0], all_[1]);
    all_.erase(all_.begin() + 1);
  }
  return all_.back();
}

void Course::on_measured(TimePoint at, double value_c) {
  Second& second = second_of(at);
  second.measured_c = last_measured_c_ = value_c;
  second.measured_at = last_measured_at_ = at;
}

void Course::on_fluid(TimePoint at, double value_c, std::optional<double> rate_c_per_min) {
  Second& second = second_of(at);
  widen(second.fluid, value_c, value_c);
  if (rate_c_per_min) second.fluid.rate_c_per_min = rate_c_per_min;
}

void Course::on_engine(TimePoint at, double rpm) {
  Second& second = second_of(at);
  second.rpm_sum += rpm;
  second.readings += 1;
}

void Course::forget_before(TimePoint at) {
  // A second that began before is forgotten as a whole: it would be counted to what came after.
  while (!all_.empty() && all_.front().from < at) all_.pop_front();
}

Course::Span Course::between(TimePoint from, TimePoint to) const {
  Second sum;
  for (const Second& one : all_)
    if (one.from >= from && one.from <= to) join(sum, one);
  if (sum.readings > 0) sum.fluid.mean_rpm = sum.rpm_sum / sum.readings;
  return sum.fluid;
}

std::optional<double> Course::first_from(double value_c, TimePoint from, TimePoint to) const {
  for (const Second& one : all_)
    if (one.from >= from && one.from <= to && one.fluid.high_c && *one.fluid.high_c >= value_c)
      return one.fluid.high_c;
  return std::nullopt;
}

std::optional<double> Course::measured_at(TimePoint at, Duration fresh) const {
  const auto live = [&](TimePoint read) { return read <= at && at - read <= fresh; };
  if (last_measured_c_ && live(last_measured_at_)) return last_measured_c_;
  for (auto one = all_.rbegin(); one != all_.rend(); ++one)
    if (one->measured_c && live(one->measured_at)) return one->measured_c;
  return std::nullopt;
}

}  // namespace sumplog
