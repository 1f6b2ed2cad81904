#include "io/job_time.h"

#include <sys/timerfd.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <utility>

namespace sumplog {
namespace {

constexpr std::int64_t kMicrosPerSecond = 1000000;

std::int64_t in_micros(const std::timespec& t) {
  return static_cast<std::int64_t>(t.tv_sec) * kMicrosPerSecond + t.tv_nsec / 1000;
}

std::int64_t read_clock(clockid_t id) {
  std::timespec t{};
  clock_gettime(id, &t);
  return in_micros(t);
}

}  // namespace

Result<JobTime> JobTime::start() {
  JobTime time;
  time.job_minus_boot_us_ = read_clock(CLOCK_REALTIME) - read_clock(CLOCK_BOOTTIME);
  time.timer_ = FileDescriptor(timerfd_create(CLOCK_REALTIME, TFD_NONBLOCK | TFD_CLOEXEC));
  if (time.timer_.get() < 0) return fault(std::string("no timer: ") + std::strerror(errno), "timerfd_create");
  if (auto armed = time.arm(); !armed) return tl::unexpected(armed.error());
  time.last_ = time.measure();
  return time;
}

Result<void> JobTime::arm() {
  // The timer never fires by itself: reading it fails with ECANCELED when the clock was set.
  constexpr std::time_t kFarAway = std::time_t{1} << 40;
  itimerspec never{};
  never.it_value.tv_sec = kFarAway;
  if (timerfd_settime(timer_.get(), TFD_TIMER_ABSTIME | TFD_TIMER_CANCEL_ON_SET, &never, nullptr) != 0)
    return fault(std::string("the clock cannot be watched: ") + std::strerror(errno), "timerfd_settime");
  return {};
}

TimePoint JobTime::now() const {
  return at_micros(read_clock(CLOCK_BOOTTIME) + job_minus_boot_us_);
}

JobTime::Sample JobTime::measure() const {
  // The two clocks cannot be read at one moment; the thread may lose the processor in between. The closest of a few
  // tries counts.
  constexpr int kTries = 8;
  constexpr std::int64_t kCloseEnough = 20;  // microseconds
  Sample best;
  std::int64_t best_gap = std::numeric_limits<std::int64_t>::max();
  for (int i = 0; i < kTries && best_gap > kCloseEnough; ++i) {
    const std::int64_t before = read_clock(CLOCK_BOOTTIME);
    const std::int64_t wall = read_clock(CLOCK_REALTIME);
    const std::int64_t gap = read_clock(CLOCK_BOOTTIME) - before;
    if (gap >= best_gap) continue;
    best_gap = gap;
    best.boot_us = before + gap / 2;
    best.offset_us = best.boot_us + job_minus_boot_us_ - wall;
  }
  return best;
}

void JobTime::sample() {
  // Time services steer a clock by at most 500 ppm (adjtimex(2)); twice that and a little noise is no step.
  constexpr std::int64_t kSteered = 1000;  // microseconds of elapsed time for each one of steering
  constexpr std::int64_t kNoise = 2000;    // microseconds
  const Sample now = measure();
  const std::int64_t moved = last_.offset_us - now.offset_us;
  if (std::abs(moved) > kNoise + (now.boot_us - last_.boot_us) / kSteered) stepped_us_ += moved;
  last_ = now;
}

TimePoint JobTime::from_kernel(const std::timespec& stamp) const {
  return at_micros(in_micros(stamp) + last_.offset_us);
}

std::optional<Duration> JobTime::take_step() {
  std::uint64_t expirations = 0;
  const auto n = read(timer_.get(), &expirations, sizeof expirations);
  if (!(n < 0 && errno == ECANCELED)) return std::nullopt;
  (void)arm();
  sample();
  // A batch of frames may have been sampled since the clock was set: what it saw counts too.
  const std::int64_t step = std::exchange(stepped_us_, 0);
  if (step == 0) return std::nullopt;  // waking from sleep looks the same and sets nothing
  return Duration{step};
}

}  // namespace sumplog
