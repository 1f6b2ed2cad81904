#pragma once
#include <ctime>
#include <optional>

#include "core/item/result.h"
#include "core/item/time.h"
#include "io/file_descriptor.h"

namespace sumplog {

/// Job time: the wall clock at the start plus the CLOCK_BOOTTIME that has passed since. Setting the wall clock does not bend it;
/// it goes on while the machine sleeps.
class JobTime {
 public:
  /// err  the kernel has no such clock or timer
  [[nodiscard]] static Result<JobTime> start();

  [[nodiscard]] TimePoint now() const;
  /// Samples how far the wall clock is from job time; call it once for each batch of kernel time stamps.
  void sample();
  /// A kernel time stamp (wall clock) as job time, by the last sample.
  [[nodiscard]] TimePoint from_kernel(const std::timespec& stamp) const;

  /// Readable when somebody set the wall clock (timerfd with TFD_TIMER_CANCEL_ON_SET).
  [[nodiscard]] int step_descriptor() const { return timer_.get(); }
  /// By how much it was set since the last call; nothing when it was not.
  [[nodiscard]] std::optional<Duration> take_step();

 private:
  JobTime() = default;
  [[nodiscard]] Result<void> arm();

  FileDescriptor timer_;
  std::int64_t wall_at_start_us_ = 0;
  std::int64_t boot_at_start_us_ = 0;
  std::int64_t offset_us_ = 0;  ///< job time minus wall clock, at the last sample
};

}  // namespace sumplog
