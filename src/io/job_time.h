#pragma once
#include <ctime>
#include <optional>

#include "core/item/result.h"
#include "core/item/time.h"
#include "io/file_descriptor.h"

namespace sumplog {

/// Job time: the wall clock at the start plus the CLOCK_BOOTTIME that has passed since. Setting the wall clock does not
/// bend it; it goes on while the machine sleeps.
class JobTime {
 public:
  /// err  the kernel has no such clock or timer
  [[nodiscard]] static Result<JobTime> start();

  [[nodiscard]] TimePoint now() const;
  /// Samples how far the wall clock is from job time; call it once for each batch of kernel time stamps.
  void sample();
  /// A kernel time stamp (wall clock) as job time, by the last sample. A stamp from before a step of the wall clock comes
  /// out wrong by that step: the caller knows between which times it must lie.
  [[nodiscard]] TimePoint from_kernel(const std::timespec& stamp) const;

  /// Readable when somebody set the wall clock (timerfd with TFD_TIMER_CANCEL_ON_SET).
  [[nodiscard]] int step_descriptor() const { return timer_.get(); }
  /// By how much it was set since the last call, forward positive; nothing when it was not, or by less than what
  /// steering a clock does anyway.
  [[nodiscard]] std::optional<Duration> take_step();

 private:
  struct Sample {
    std::int64_t boot_us = 0;
    std::int64_t offset_us = 0;  ///< job time minus wall clock
  };
  JobTime() = default;
  [[nodiscard]] Result<void> arm();
  [[nodiscard]] Sample measure() const;

  FileDescriptor timer_;
  std::int64_t job_minus_boot_us_ = 0;
  Sample last_{};
  std::int64_t stepped_us_ = 0;  ///< seen in samples, not yet taken
};

}  // namespace sumplog
