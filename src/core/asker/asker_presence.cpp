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
constexpr Duration::rep kPatiencePercent = 150;  // of the time that an answer took …
constexpr Duration::rep kForgetPercent =
    90;  // … and of what was learned before, from each answer to the next

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

/// How long the next answer from there may take: longer at once, and shorter again step by step.
void Asker::learn_patience(const Exchange& exchange) {
  if (exchange.pending > 0) return;
  const Duration wanted = (exchange.ended_at - exchange.asked_at) * kPatiencePercent / 100;
  Duration& patience = patience_.try_emplace(exchange.request, kP2Client).first->second;
  patience = std::clamp(std::max(wanted, patience * kForgetPercent / 100), kP2Client, kAnswerTime);
}

/// An answer that came after we had given up, or one to another tester. A slow gateway is not silent: what it says
/// counts, and the next request to there waits longer.
void Asker::on_late_answer(const Exchange& exchange) {
  const Endpoint& to = exchange.request;
  silent_.erase(to);
  if (exchange.result != ExchangeResult::answered) return;
  for (std::size_t i = 0; i < plan_.tasks().size(); ++i) {
    Task& task = plan_.tasks()[i];
    if (task.payload() != exchange.asked) continue;
    if (task.target == to) {
      learn_patience(exchange);
      task.failures = 0;
      task.answered = true;
      task.due = std::min(task.due, exchange.ended_at + task.period);
    }
    const bool to_all = sending_identifier(to.id) == SendingIdentifier::functional &&
                        task.extended.value_or(to.id.extended) == to.id.extended;
    if (task.target || !to_all || task.state == TaskState::denied) continue;
    learn_patience(exchange);
    if (!extended_known_) extended_ = to.id.extended;
    Outstanding late;
    late.request = {to, exchange.asked};
    late.tasks.push_back(i);
    late.functional = true;
    on_functional_answer(late, exchange);
    if (late.answered) finish_all_units(late, exchange.ended_at);
    return;  // that may have added tasks
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
