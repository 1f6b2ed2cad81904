#pragma once
#include <algorithm>

#include "core/asker/plan.h"
#include "core/item/time.h"

namespace sumplog {

// How the asker waits longer each time. Times are ours, no source.

inline constexpr Duration kFirstBackOff = std::chrono::milliseconds{500};  // doubles with each failure …
inline constexpr Duration kMostBackOff = std::chrono::seconds{5};          // … up to this
inline constexpr Duration kMostVinBackOff = std::chrono::seconds{60};      // the VIN can wait

[[nodiscard]] inline Duration back_off(int failures, Duration most) {
  Duration wait = kFirstBackOff;
  for (int i = 1; i < failures && wait < most; ++i) wait *= 2;
  return std::min(wait, most);
}

/// One more failure: later, or never again.
inline void fail(Task& task, TimePoint due) {
  ++task.failures;
  task.due = due;
  if (task.most_failures == 0 || task.failures < task.most_failures) return;
  task.state = TaskState::done;
}

[[nodiscard]] inline Duration most_back_off(TaskKind kind) {
  switch (kind) {
    case TaskKind::vin:
    case TaskKind::information:
    case TaskKind::group: return kMostVinBackOff;
    case TaskKind::support:
    case TaskKind::parameter:
    case TaskKind::identifier:
    case TaskKind::codes: break;
  }
  return kMostBackOff;
}

}  // namespace sumplog
