#pragma once
#include <cstddef>

#include "core/vehicle/hostile/job.h"

namespace sumplog::hostile_test {

/// Counts the bytes that the core holds: what was allocated while it worked and is not freed yet, whoever frees
/// it. The test program's own operators new and delete keep the count; one thread alone.
class CoreMemory {
 public:
  CoreMemory();
  ~CoreMemory();
  CoreMemory(const CoreMemory&) = delete;
  CoreMemory& operator=(const CoreMemory&) = delete;

  [[nodiscard]] hostile::MemoryWatch watch();
  /// The most that was held at once since the start, at a moment when the core did not work.
  [[nodiscard]] std::size_t most() const;
};

}  // namespace sumplog::hostile_test
