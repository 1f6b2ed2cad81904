#include "io/job_time.h"

#include <sys/timerfd.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

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
  time.wall_at_start_us_ = read_clock(CLOCK_REALTIME);
  time.boot_at_start_us_ = read_clock(CLOCK_BOOTTIME);
  time.timer_ = FileDescriptor(timerfd_create(CLOCK_REALTIME, TFD_NONBLOCK | TFD_CLOEXEC));
  if (time.timer_.get() < 0) return fault(std::string("no timer: ") + std::strerror(errno), "timerfd_create");
  if (auto armed = time.arm(); !armed) return tl::unexpected(armed.error());
  time.sample();
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
  return at_micros(wall_at_start_us_ + read_clock(CLOCK_BOOTTIME) - boot_at_start_us_);
}

void JobTime::sample() {
  offset_us_ = micros(now()) - read_clock(CLOCK_REALTIME);
}

TimePoint JobTime::from_kernel(const std::timespec& stamp) const {
  return at_micros(in_micros(stamp) + offset_us_);
}

std::optional<Duration> JobTime::take_step() {
  std::uint64_t expirations = 0;
  const auto n = read(timer_.get(), &expirations, sizeof expirations);
  if (!(n < 0 && errno == ECANCELED)) return std::nullopt;
  const std::int64_t before = offset_us_;
  sample();
  (void)arm();
  return Duration{before - offset_us_};
}

}  // namespace sumplog
