#include <algorithm>

#include "core/asker/asker.h"

// What the asker does when somebody turns up, or when a person asks.

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source.
constexpr int kMostGreetings = 3;  // 01 00 again, when a unit turns up that did not answer it
constexpr Duration kGreetAgainAfter = 1s;
constexpr Duration kAfterWaking = 500ms;

}  // namespace

void Asker::on_answered(TimePoint now) {
  const bool was_off = presence_.off();
  presence_.on_answer(now);
  if (was_off) revive(now);
}

/// Whatever was learned about silence is of before: everything is due again.
void Asker::revive(TimePoint now) {
  silent_.clear();
  for (Task& task : plan_.tasks()) {
    task.failures = 0;
    // Not sooner: it may have been asked a moment ago, and the answer is what woke us.
    task.due = std::min(task.due, now + std::min(task.period, kAfterWaking));
  }
}

/// Its answer to 01 00 was lost, or it was asleep then.
void Asker::greet_again(const Endpoint& unit, TimePoint now) {
  if (!greeted_ || greeted_again_ >= kMostGreetings || plan_.greeted_by(unit)) return;
  for (Task& task : plan_.tasks()) {
    if (task.kind != TaskKind::support || task.id != 0 || task.state != TaskState::done ||
        task.extended.value_or(unit.id.extended) != unit.id.extended)
      continue;
    ++greeted_again_;
    task.state = TaskState::active;
    task.due = now + kGreetAgainAfter;
    return;
  }
}

void Asker::on_read_once(TimePoint now) {
  if (now < other_until_) return;
  bool some = false;
  for (Task& task : plan_.tasks()) {
    if (task.rank != kFluidRank || task.state != TaskState::active) continue;
    task.at_once = some = true;
    silent_.erase(task.target.value_or(Endpoint{}));
  }
  if (!some) plan_.tasks().front().at_once = true;  // nothing to read yet: at least who is there
}

}  // namespace sumplog
