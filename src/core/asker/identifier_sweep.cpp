#include "core/asker/identifier_sweep.h"

#include <algorithm>
#include <span>

#include "core/asker/denial.h"
#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source.
constexpr int kMostFailures = 2;          // lost once may be chance, or the moment
constexpr Duration kPromisingEvery = 3s;  // a fluid moves a degree in ten seconds at most
constexpr Duration kOthersEvery = 20s;    // often enough to see that one begins to move
constexpr Duration kLatest = 24h;         // a job that is gone on with days later
constexpr int kBusyBelieved = 3;          // in a row; one may be chance
constexpr int kNobodyThere = 16;          // questions to a unit that has never answered anything
constexpr int kSweepRank = 9;             // behind everything that the job itself asks
constexpr std::size_t kSmallestRoom = 6;  // ISO 15765-2: a single frame beside an address byte

std::string text_of_question(const std::vector<std::uint8_t>& question) {
  return hex_text(question.data(), 1) + " " + hex_text(question.data() + 1, question.size() - 1);
}

Task task_for(const Endpoint& to, const std::vector<std::uint8_t>& question, TimePoint now) {
  Task task;
  task.kind = TaskKind::codes;  // whose payload is its question
  task.service = question.front();
  task.question = question;
  task.target = to;
  task.rank = kSweepRank;
  task.due = now;
  task.most_failures = 1;  // what is asked again is decided here
  task.of_sweep = true;
  return task;
}

bool puts_off(const Exchange& exchange) {
  return exchange.result == ExchangeResult::refused &&
         (exchange.negative_code == negative_code::kBusyRepeatRequest ||
          exchange.negative_code == negative_code::kConditionsNotCorrect);
}

}  // namespace

bool IdentifierSweep::Identifier::settled() const {
  return answers || denied || failures >= kMostFailures;
}

Duration IdentifierSweep::Identifier::period() const {
  return answers && answers->slow() && failures == 0 ? kPromisingEvery : kOthersEvery;
}

IdentifierSweep::IdentifierSweep(const std::vector<SweepRange>& ranges, BusName bus) {
  for (const SweepRange& range : ranges) {
    const Endpoint to = range.unit(bus);
    if (!units_.contains(to)) order_.push_back(to);
    Unit& unit = units_[to];
    for (std::uint32_t id = range.first; id <= range.last; ++id) {
      Question question{range.service};
      if (range.service == service::kReadDataByIdentifier)
        question.push_back(static_cast<std::uint8_t>(id >> 8));
      question.push_back(static_cast<std::uint8_t>(id));
      if (!unit.place.emplace(question, unit.identifiers.size()).second) continue;
      unit.identifiers.emplace_back().question = std::move(question);
    }
  }
}

void IdentifierSweep::begin() {
  begun_ = true;
  for (auto& [to, unit] : units_) unit.silent = unit.busy = 0;
}

void IdentifierSweep::on_exchange(const Exchange& exchange) {
  const auto found = units_.find(exchange.request);
  if (found == units_.end()) return;
  Unit& unit = found->second;
  const bool silent = exchange.result == ExchangeResult::silent;
  const bool after_silence = unit.silent > 0;
  // The time tells it from an earlier one with the same words.
  if (unit.out && unit.out->question == exchange.asked && exchange.asked_at >= unit.out->at) {
    if (silent) on_silence(unit);
    unit.out.reset();
  }
  if (!silent) on_sign_of_life(unit, exchange);
  const auto place = unit.place.find(exchange.asked);
  if (place == unit.place.end()) return;
  Identifier& one = unit.identifiers[place->second];
  one.awaited = false;
  one.pass = unit.pass;
  if (exchange.result == ExchangeResult::answered) {
    if (!one.answers) {
      one.answers.emplace();
      unit.answering.push_back(place->second);
    }
    one.failures = 0;
    one.answers->on_payload(std::span(exchange.response).subspan(exchange.asked.size()), exchange.ended_at);
  } else {
    ++one.failures;
    // A refusal names no identifier (ISO 14229-1): behind a silence it may be the late answer to the question before.
    if (!silent && !after_silence && !denial_of(exchange.negative_code).empty()) one.denied = true;
  }
  one.due = exchange.ended_at + one.period();
  go_on_to_next_pass(unit);
}

void IdentifierSweep::on_sign_of_life(Unit& unit, const Exchange& exchange) const {
  unit.silent = 0;
  if (!puts_off(exchange)) {
    unit.busy = 0;
    const bool better =
        !unit.known || unit.place.contains(exchange.asked) || !unit.place.contains(*unit.known);
    if (better && !refuse_request(exchange.asked, kSmallestRoom)) unit.known = exchange.asked;
    return;
  }
  ++unit.busy;
  if (!begun_ || unit.busy < kBusyBelieved) return;
  unit.trouble = "it said " + std::to_string(unit.busy) + " times in a row that " +
                 (exchange.negative_code == negative_code::kBusyRepeatRequest
                      ? "it is busy"
                      : "conditions are not right for an answer");
}

void IdentifierSweep::on_silence(Unit& unit) {
  ++unit.silent;
  if (unit.out->whether_alive)
    unit.trouble = "it does not answer any more, not even what it has answered before (" +
                   text_of_question(unit.out->question) + "): it may have started again";
  else if (!unit.known && unit.silent >= kNobodyThere)
    unit.trouble = "it has not answered any of " + std::to_string(unit.silent) + " questions";
}

std::optional<Task> IdentifierSweep::take(const Endpoint& to, TimePoint now) {
  Unit& unit = units_.at(to);
  if (unit.out) {  // the asker has given it up; its exchange comes later
    on_silence(unit);
    unit.out.reset();
  }
  if (unit.left || !unit.trouble.empty()) return std::nullopt;
  if (unit.silent > 0 && unit.known) {
    unit.out = Out{*unit.known, now, true, 0};
    return task_for(to, *unit.known, now);
  }
  const Identifier* const next = unit.pass == 1 ? next_of_first_pass(unit) : most_overdue(unit, now);
  if (next == nullptr) return std::nullopt;
  Identifier& one = unit.identifiers[unit.place.at(next->question)];
  unit.out = Out{one.question, now, false, one.pass};
  one.awaited = true;
  one.pass = unit.pass;
  return task_for(to, one.question, now);
}

void IdentifierSweep::take_back(const Endpoint& to) {
  Unit& unit = units_.at(to);
  if (!unit.out) return;
  if (!unit.out->whether_alive) {
    Identifier& one = unit.identifiers[unit.place.at(unit.out->question)];
    one.awaited = false;
    one.pass = unit.out->pass_before;
  }
  unit.out.reset();
}

/// What was never asked first, and what is to be asked once more behind it.
const IdentifierSweep::Identifier* IdentifierSweep::next_of_first_pass(const Unit& unit) {
  const Identifier* once_more = nullptr;
  for (const Identifier& one : unit.identifiers) {
    if (one.settled() || one.awaited) continue;
    if (one.failures == 0) return &one;
    if (once_more == nullptr) once_more = &one;
  }
  return once_more;
}

/// Of what has answered, the one that has waited longest in proportion to its period.
/// in   now  nothing: the one that is due first, whenever that is
const IdentifierSweep::Identifier* IdentifierSweep::most_overdue(const Unit& unit,
                                                                 std::optional<TimePoint> now) {
  const Identifier* best = nullptr;
  for (const std::size_t index : unit.answering) {
    const Identifier& one = unit.identifiers[index];
    if (one.awaited || (now && one.due > *now)) continue;
    const auto waits_longer = [&] {
      if (!now) return one.due < best->due;
      const auto late = [&](const Identifier& which) { return std::min(*now - which.due, kLatest).count(); };
      return late(one) * best->period().count() > late(*best) * one.period().count();
    };
    if (best == nullptr || waits_longer()) best = &one;
  }
  return best;
}

void IdentifierSweep::go_on_to_next_pass(Unit& unit) {
  const auto open = [&](const Identifier& one) {
    return one.awaited || (unit.pass == 1 ? !one.settled() : one.pass < unit.pass);
  };
  const bool over =
      unit.pass == 1
          ? std::none_of(unit.identifiers.begin(), unit.identifiers.end(), open)
          : !unit.answering.empty() && std::none_of(unit.answering.begin(), unit.answering.end(),
                                                    [&](std::size_t i) { return open(unit.identifiers[i]); });
  if (over) ++unit.pass;
}

std::optional<TimePoint> IdentifierSweep::due(const Endpoint& to) const {
  const Unit& unit = units_.at(to);
  if (unit.left || !unit.trouble.empty()) return std::nullopt;
  if (unit.out || (unit.silent > 0 && unit.known)) return TimePoint::min();
  const Identifier* const next = unit.pass == 1 ? next_of_first_pass(unit) : most_overdue(unit, std::nullopt);
  if (next == nullptr) return std::nullopt;
  return unit.pass == 1 ? TimePoint::min() : next->due;
}

std::optional<std::string> IdentifierSweep::trouble(const Endpoint& to) const {
  const std::string& trouble = units_.at(to).trouble;
  return trouble.empty() ? std::nullopt : std::optional(trouble);
}

void IdentifierSweep::leave(const Endpoint& to) {
  units_.at(to).left = true;
}

SweepProgress IdentifierSweep::progress() const {
  SweepProgress progress;
  progress.pass = 0;
  for (const auto& [to, unit] : units_) {
    const bool has_nothing_more = unit.left || (unit.pass > 1 && unit.answering.empty());
    if (!has_nothing_more && (progress.pass == 0 || unit.pass < progress.pass)) progress.pass = unit.pass;
  }
  progress.pass = std::max(progress.pass, 1);
  for (const auto& [to, unit] : units_) {
    for (const Identifier& one : unit.identifiers) {
      if (one.answers) ++progress.answering;
      if (one.answers && one.answers->slow()) ++progress.promising;
      if (unit.left || (progress.pass > 1 && !one.answers)) continue;
      ++progress.of;
      if (one.pass >= progress.pass) ++progress.asked;
    }
  }
  return progress;
}

}  // namespace sumplog
