#include <algorithm>
#include <utility>

#include "core/asker/asker.h"

// What the asker does for a sweep of identifiers.

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Own choice: ten requests a second is a tenth of what a unit can answer, and leaves the bus to those who need it. A frame may
// wait for the bus, so the distance is a little more than a tenth of a second: eleven within a second stay impossible while
// none is held up for longer than a tenth.
constexpr Duration kSweepDistance = 110ms;
constexpr double kReadingsPerSecond = 1;  // own choice: the sweep needs the room

}  // namespace

AskerSettings sweep_settings(BusName bus, std::vector<SweepRange> ranges) {
  AskerSettings settings;
  settings.bus = bus;
  settings.readings_per_second = kReadingsPerSecond;
  settings.closest = kSweepDistance;
  settings.sweep = std::move(ranges);
  return settings;
}

bool Asker::is_under_way(std::size_t task) const {
  return std::any_of(outstanding_.begin(), outstanding_.end(), [&](const Outstanding& one) {
    return std::find(one.tasks.begin(), one.tasks.end(), task) != one.tasks.end();
  });
}

/// A sweep has thousands of questions: each takes the place of one that is over.
void Asker::ask_for_sweep(Task task) {
  task.of_sweep = true;
  auto& tasks = plan_.tasks();
  for (std::size_t i = 0; i < tasks.size(); ++i) {
    if (!tasks[i].of_sweep || tasks[i].state == TaskState::active) continue;
    tasks[i] = std::move(task);
    return;
  }
  tasks.push_back(std::move(task));
}

bool Asker::sweep_asks(const Endpoint& unit) const {
  return std::any_of(plan_.tasks().begin(), plan_.tasks().end(), [&](const Task& task) {
    return task.of_sweep && task.target == unit && task.period == Duration::zero() &&
           task.state == TaskState::active;
  });
}

void Asker::drop_of_sweep(bool repeated_too) {
  auto& tasks = plan_.tasks();
  for (std::size_t i = 0; i < tasks.size(); ++i) {
    if (!tasks[i].of_sweep || tasks[i].state != TaskState::active || is_under_way(i)) continue;
    if (repeated_too || tasks[i].period == Duration::zero()) tasks[i].state = TaskState::done;
  }
}

std::optional<std::string> Asker::sweep_refused(const Endpoint& unit) const {
  const auto found = sweep_refused_.find(unit);
  return found == sweep_refused_.end() ? std::nullopt : std::optional(found->second);
}

}  // namespace sumplog
