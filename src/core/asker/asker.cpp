#include "core/asker/asker.h"

#include <algorithm>
#include <cassert>
#include <tuple>

#include "core/asker/back_off.h"
#include "core/asker/denial.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/isotp/pci.h"
#include "core/item/json_line.h"
#include "core/j1939/identifier.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr CanId kFunctional11 = standard_id(0x7DF);       // ISO 15765-4
constexpr CanId kFunctional29 = extended_id(0x18DB33F1);  // ISO 15765-4
constexpr std::size_t kMostPids = 6;                      // SAE J1979, service 01
constexpr std::size_t kMostPidsBesideAddress = 5;         // the address byte of extended addressing takes one

// Ours, no source.
constexpr Duration kEchoDue = 100ms;      // a request that does not come back by then was not sent
constexpr Duration kBusyRetry = 500ms;    // after NRC 21
constexpr int kRefusalsBelieved = 3;      // in a row, of what is read again and again
constexpr Duration kLongestAnswer = 60s;  // a unit that says "pending" for longer counts as silent
// A refusal that comes late counts as that of the next identifier, so one waits longer.
constexpr Duration kSweepPatience = 300ms;
constexpr Duration::rep kClosestPercent = 80;  // of a period, between two requests while catching up
constexpr Duration kOtherTesterQuiet = 5s;  // ISO 14229-2 S3: by then a session of another tester has ended

constexpr Duration kLongWait = 1s;
constexpr Duration kClaimObjection = 250ms;  // SAE J1939-81: time to object to an address claim
constexpr Duration kGroupAnswer =
    1250ms;  // as Linux net/can/j1939/transport.c waits for an answer, or a packet

/// True when the answer to several PIDs holds all of them.
bool complete(const std::vector<std::uint8_t>& asked, const std::vector<std::uint8_t>& response) {
  std::size_t wanted = 1;
  for (std::size_t i = 1; i < asked.size(); ++i) wanted += 1 + pid_length(asked[i]).value_or(0);
  return response.size() == wanted;
}

/// Counted from when it was due, so that a late request does not slow the ones after it: on the average never
/// faster than asked for, and never closer together than kClosestPercent of the period.
TimePoint next_due(const Task& task, TimePoint now) {
  const TimePoint next = task.due + task.period;
  if (next <= now) return now + task.period;  // a whole period was missed: it is not made up for
  return std::max(next, now + task.period * kClosestPercent / 100);
}

std::int64_t bits_of(const Endpoint& endpoint, const std::vector<std::uint8_t>& payload) {
  return longest_message_bits(endpoint.id.extended, payload.size(), endpoint.address.has_value());
}

}  // namespace

AskerSettings at_rate(BusName bus, double readings_per_second) {
  AskerSettings settings;
  settings.bus = bus;
  settings.readings_per_second = readings_per_second;
  settings.share = kMostShare;
  return settings;
}

TimePoint Asker::Outstanding::deadline() const {
  if (!echo) return handed + kEchoDue;
  TimePoint last = *echo + (group ? kGroupAnswer : patience);
  for (const auto& [unit, until] : busy) last = std::max(last, until);
  return std::min(last, *echo + kLongestAnswer);
}

Asker::Asker(const std::vector<Decoder>& decoders, const AskerSettings& settings, TimePoint start)
    : settings_(settings),
      decoders_(decoders),
      book_(named_units(decoders)),
      plan_(decoders, settings.bus, settings.readings_per_second, settings.purpose, start),
      budget_(settings.bit_rate, settings.share),
      presence_(start) {}

void Asker::on_output(const Output& output, TimePoint now) {
  for (const Message& message : output.messages) on_message(message);
  for (const Endpoint& unit : output.receiving) on_receiving(unit, now);
  for (const Exchange& exchange : output.exchanges) on_exchange(exchange);
}

void Asker::on_message(const Message& message) {
  if (message.group) {
    on_group_message(message);
    return;
  }
  for (Outstanding& one : outstanding_) {
    if (!one.echo && one.request.to == message.from && one.request.payload == message.payload) {
      one.echo = message.at;
      unsent_ = 0;
      return;
    }
  }
  const bool to_us = std::any_of(outstanding_.begin(), outstanding_.end(), [&](const Outstanding& one) {
    return one.echo && book_.may_answer(one.request.to, message.from);
  });
  if (to_us) budget_.spend(bits_of(message.from, message.payload), message.at);
  const auto& payload = message.payload;
  const bool pending = payload.size() >= 3 && payload[0] == service::kNegativeResponse &&
                       payload[2] == service::kResponsePending;
  if (!pending) return;
  for (Outstanding& one : outstanding_)
    if (one.request.payload[0] == payload[1] && book_.may_answer(one.request.to, message.from))
      one.busy[message.from] = message.at + kP2StarClient;
}

void Asker::on_receiving(const Endpoint& unit, TimePoint now) {
  for (Outstanding& one : outstanding_) {
    if (!one.echo) continue;
    if (one.group ? is_group_answer(one, unit) : book_.may_answer(one.request.to, unit))
      one.busy[unit] = now + (one.group ? kGroupAnswer : kNCr);
  }
}

void Asker::on_exchange(const Exchange& exchange) {
  remember(exchange);
  if (exchange.unit && exchange.result != ExchangeResult::silent) {
    on_answered(exchange.ended_at);
    if (exchange.result == ExchangeResult::answered) greet_again(*exchange.unit, exchange.ended_at);
  }
  const auto found = std::find_if(outstanding_.begin(), outstanding_.end(), [&](const Outstanding& one) {
    // The time tells it from an earlier one with the same words that the pairing closes only now.
    return one.echo == exchange.asked_at && one.request.to == exchange.request &&
           one.request.payload == exchange.asked;
  });
  if (found == outstanding_.end()) {
    if (exchange.result != ExchangeResult::silent) on_late_answer(exchange);
    return;
  }
  if (found->functional) {
    if (exchange.result != ExchangeResult::silent) on_functional_answer(*found, exchange);
    return;
  }
  const Outstanding over = std::move(*found);
  outstanding_.erase(found);
  finish_unit(over, &exchange, exchange.ended_at);
}

void Asker::on_functional_answer(Outstanding& outstanding, const Exchange& exchange) {
  outstanding.busy.erase(*exchange.unit);
  extended_known_ = true;
  Task& task = plan_.tasks()[outstanding.tasks.front()];
  if (exchange.result != ExchangeResult::answered) return;
  constexpr std::size_t kVinHeader = 3;  // 49 02 and the number of items
  switch (task.kind) {
    case TaskKind::support: plan_.on_support(*exchange.unit, exchange.response); break;
    case TaskKind::vin:
      if (exchange.response.size() <= kVinHeader) return;
      break;
    case TaskKind::information:
      if (task.id == 0)
        plan_.on_information_support(*exchange.unit, exchange.response);
      else
        plan_.on_information(*exchange.unit, static_cast<std::uint8_t>(task.id));
      break;
    case TaskKind::parameter:
    case TaskKind::identifier:
      if (!outstanding.answered) task.target = book_.request_to(*exchange.unit);
      break;
    case TaskKind::group:  // never to all units of ISO 15765
    case TaskKind::codes: break;
  }
  outstanding.answered = true;
}

void Asker::finish_all_units(const Outstanding& outstanding, TimePoint now) {
  Task& task = plan_.tasks()[outstanding.tasks.front()];
  const auto type = static_cast<std::uint8_t>(task.id);
  const bool all_told = task.kind != TaskKind::information || plan_.informed(type, task.extended);
  if (!outstanding.answered || !all_told) {
    fail(task, now + back_off(task.failures + 1, most_back_off(task.kind)));
    if (!outstanding.answered) presence_.on_nothing(now);
    if (!extended_known_ && task.kind == TaskKind::support && !task.extended) extended_ = !extended_;
  } else {
    task.failures = 0;
    if (task.period == Duration::zero()) task.state = TaskState::done;
  }
  if (task.kind == TaskKind::support) greeted_ = true;
  if (!outstanding.answered) return;
  // These may add a task: `task` is not valid after them.
  const std::optional<bool> extended = task.extended;
  if (task.kind == TaskKind::support) {
    plan_.on_range_known(book_, type, extended, now);
  } else if (task.kind == TaskKind::information && type == 0) {
    plan_.on_information_known(extended, now);
  }
}

void Asker::finish_unit(const Outstanding& outstanding, const Exchange* exchange, TimePoint now) {
  const Endpoint& to = outstanding.request.to;
  const bool together = outstanding.tasks.size() > 1;
  Several& several = several_[to];
  if (exchange == nullptr || exchange->result == ExchangeResult::silent) {
    Task& first = plan_.tasks()[outstanding.tasks.front()];
    // Many units say nothing to an identifier that they do not have: that is not yet silence of the unit.
    if (first.of_sweep) return fail(first, now + kFirstBackOff);
    Silence& silence = silent_[to];
    ++silence.count;
    silence.until = now + back_off(silence.count, kMostBackOff);
    // Silent to several PIDs: perhaps that is why. Silent to one as well: it was not.
    if (together) {
      several = Several::doubted;
    } else if (several == Several::doubted) {
      several = Several::yes;
    }
    for (const std::size_t index : outstanding.tasks) fail(plan_.tasks()[index], silence.until);
    // Where a scan asks, nobody need be.
    if (!first.of_scan) presence_.on_nothing(now);
    return;
  }
  silent_.erase(to);
  learn_patience(*exchange);
  if (exchange->result == ExchangeResult::refused) {
    deny_or_retry(outstanding, exchange->negative_code, now);
    return;
  }
  if (together) {
    if (!complete(exchange->asked, exchange->response)) several = Several::no;
  } else if (several == Several::doubted) {
    several = Several::no;
  }
  for (const std::size_t index : outstanding.tasks) {
    Task& task = plan_.tasks()[index];
    task.failures = 0;
    task.answered = true;
    if (task.period == Duration::zero()) task.state = TaskState::done;
  }
}

void Asker::deny_or_retry(const Outstanding& outstanding, std::uint8_t code, TimePoint now) {
  const std::string_view denial = denial_of(code);
  for (const std::size_t index : outstanding.tasks) {
    Task& task = plan_.tasks()[index];
    if (code == negative_code::kBusyRepeatRequest && task.most_failures == 0) {
      task.due = std::max(task.due, now + kBusyRetry);
      continue;
    }
    if (outstanding.tasks.size() > 1) {
      several_[outstanding.request.to] = Several::no;  // the next ones are asked alone, and denied alone
      continue;
    }
    // A refusal names the service and not the identifier (ISO 14229-1): it may be the answer to another tester.
    const bool once = task.period == Duration::zero() && !task.answered;
    const bool believed = once || task.failures + 1 >= kRefusalsBelieved;
    if (!denial.empty() && believed) {
      task.state = TaskState::denied;
      task.why = denial;
    } else {
      fail(task, std::max(task.due, now + back_off(task.failures + 1, kMostBackOff)));
    }
  }
}

void Asker::retry_unsent(std::size_t index, TimePoint now) {
  const Outstanding over = std::move(outstanding_[index]);
  outstanding_.erase(outstanding_.begin() + static_cast<std::ptrdiff_t>(index));
  ++unsent_;
  quiet_until_ = std::max(quiet_until_, now + back_off(unsent_, kMostBackOff));
  for (const std::size_t task : over.tasks) plan_.tasks()[task].due = now;
  presence_.on_nothing(now);
}

void Asker::on_refused(GuardRefusal refusal) {
  assert(!outstanding_.empty());
  const Outstanding over = std::move(outstanding_.back());
  outstanding_.pop_back();
  for (const std::size_t index : over.tasks) {
    Task& task = plan_.tasks()[index];
    task.state = TaskState::denied;
    task.why = text_of(refusal);
    if (task.kind == TaskKind::support) greeted_ = true;  // nobody else need wait for it
    if (task.of_sweep) sweep_refused_[over.request.to] = task.why;
  }
}

void Asker::on_link(LinkState state, TimePoint now) {
  switch (state) {
    case LinkState::error_passive: return;
    case LinkState::up:
      link_up_ = true;
      if (presence_.off()) revive(now);
      presence_.begin_anew(now);
      return;
    case LinkState::down:
    case LinkState::gone:
    case LinkState::bus_off: break;
  }
  link_up_ = false;
  for (const Outstanding& one : outstanding_)
    for (const std::size_t task : one.tasks) plan_.tasks()[task].due = now;
  outstanding_.clear();
}

void Asker::on_other_tester(TimePoint at) {
  other_until_ = std::max(other_until_, at + kOtherTesterQuiet);
}

Endpoint Asker::endpoint_of(const Task& task) const {
  if (task.target) return *task.target;
  return Endpoint{settings_.bus, task.extended.value_or(extended_) ? kFunctional29 : kFunctional11,
                  std::nullopt};
}

bool Asker::is_outstanding(const Endpoint& to) const {
  return std::any_of(outstanding_.begin(), outstanding_.end(),
                     [&](const Outstanding& one) { return one.functional || one.request.to == to; });
}

/// When the task may start, apart from what is outstanding now.
std::optional<TimePoint> Asker::unblocked_start_of(const Task& task) const {
  if (!link_up_) return std::nullopt;
  if (task.target && left_alone_.contains(*task.target)) return std::nullopt;
  TimePoint start = std::max({quiet_until_, other_until_, budget_.free_at()});
  if (handed_at_) start = std::max(start, *handed_at_ + settings_.closest);
  if (task.kind == TaskKind::group) {
    if (!address_at_) return std::nullopt;
    start = std::max(start, *address_at_ + kClaimObjection);
  }
  if (task.at_once) return start;
  if (task.state != TaskState::active || presence_.off()) return std::nullopt;
  if (!greeted_ && task.kind != TaskKind::support) return std::nullopt;
  start = std::max(start, task.due);
  if (task.kind == TaskKind::information && !extended_known_) return std::nullopt;
  if (task.target) {
    const auto silence = silent_.find(*task.target);
    if (silence != silent_.end()) start = std::max(start, silence->second.until);
  }
  return start;
}

std::optional<TimePoint> Asker::start_of(const Task& task) const {
  const auto start = unblocked_start_of(task);
  if (!start || outstanding_.empty()) return start;
  if (!task.target || is_outstanding(*task.target)) return std::nullopt;
  // Something is outstanding. A request to all units that was due before us, and ranks before us, waits for
  // quiet: we do not keep it waiting.
  const bool held = std::any_of(plan_.tasks().begin(), plan_.tasks().end(), [&](const Task& other) {
    if (other.target || other.rank > task.rank) return false;
    const auto its_start = unblocked_start_of(other);
    return its_start && *its_start <= *start;
  });
  if (held) return std::nullopt;
  return start;
}

void Asker::gather_parameters(Outstanding& outstanding, TimePoint now) const {
  const Task& first = plan_.tasks()[outstanding.tasks.front()];
  if (first.kind != TaskKind::parameter || !pid_length(static_cast<std::uint8_t>(first.id))) return;
  assert(first.target);  // a parameter waits until it has its unit
  const auto several = several_.find(*first.target);
  if (several != several_.end() && several->second != Several::yes) return;
  if (!plan_.supported(book_, *first.target, first.id)) return;
  const std::size_t most = first.target->address ? kMostPidsBesideAddress : kMostPids;
  for (std::size_t i = 0; i < plan_.tasks().size() && outstanding.tasks.size() < most; ++i) {
    const Task& task = plan_.tasks()[i];
    if (i == outstanding.tasks.front() || task.kind != TaskKind::parameter || task.target != first.target)
      continue;
    const auto start = unblocked_start_of(task);
    // What is due a little later goes along now, and is due at its old time again: the rate stays.
    const Duration ahead = task.period * (100 - kClosestPercent) / 100;
    if (!start || *start > now + ahead || !pid_length(static_cast<std::uint8_t>(task.id)) ||
        !plan_.supported(book_, *task.target, task.id))
      continue;
    outstanding.tasks.push_back(i);
    outstanding.request.payload.push_back(static_cast<std::uint8_t>(task.id));
  }
}

std::optional<Request> Asker::next(TimePoint now) {
  on_deadline(now);
  take_scan_questions(now);
  auto& tasks = plan_.tasks();
  std::optional<std::size_t> best;
  // By when it was due, not by when it could start: what the bus load holds up would else never get its turn.
  // What has waited for long goes before the temperature, which alone would fill the time at a high rate; but only
  // every other time, or a plan of too many signals would push the temperature back among them.
  const auto long_waiting = [&](const Task& task) {
    return !long_waiting_last_ && !task.at_once && task.rank != kFluidRank && now - task.due > kLongWait;
  };
  const auto order = [&](const Task& task) {
    return std::tuple(!task.at_once, !long_waiting(task), task.rank, task.due);
  };
  for (std::size_t i = 0; i < tasks.size(); ++i) {
    const auto start = start_of(tasks[i]);
    if (!start || *start > now || (best && order(tasks[*best]) <= order(tasks[i]))) continue;
    best = i;
  }
  if (!best) return std::nullopt;
  long_waiting_last_ = long_waiting(tasks[*best]);
  Outstanding outstanding;
  outstanding.tasks.push_back(*best);
  outstanding.request = Request{endpoint_of(tasks[*best]), tasks[*best].payload()};
  outstanding.functional = !tasks[*best].target;
  outstanding.group = tasks[*best].kind == TaskKind::group;
  outstanding.waits_for_all = outstanding.group && settings_.purpose == PlanPurpose::who &&
                              group_destination(outstanding.request.to.id) == kJ1939Global;
  outstanding.handed = now;
  if (const auto learned = patience_.find(outstanding.request.to); learned != patience_.end())
    outstanding.patience = learned->second;
  if (tasks[*best].of_sweep) outstanding.patience = std::max(outstanding.patience, kSweepPatience);
  gather_parameters(outstanding, now);
  for (const std::size_t index : outstanding.tasks) {
    tasks[index].due = next_due(tasks[index], now);
    tasks[index].at_once = false;
  }
  budget_.spend(bits_of(outstanding.request.to, outstanding.request.payload), now);
  handed_at_ = now;
  outstanding_.push_back(outstanding);
  return outstanding.request;
}

void Asker::on_deadline(TimePoint now) {
  if (link_up_ && presence_.take_look(now)) plan_.tasks().front().at_once = true;
  for (std::size_t i = 0; i < outstanding_.size();) {
    const TimePoint due = outstanding_[i].deadline();
    if (due > now) {
      ++i;
      continue;
    }
    if (!outstanding_[i].echo) {
      retry_unsent(i, due);
      continue;
    }
    const Outstanding over = std::move(outstanding_[i]);
    outstanding_.erase(outstanding_.begin() + static_cast<std::ptrdiff_t>(i));
    if (over.functional) {
      finish_all_units(over, due);
    } else if (over.group) {
      finish_group(over, due);
    } else {
      finish_unit(over, nullptr, due);
    }
  }
}

std::optional<TimePoint> Asker::deadline() const {
  std::optional<TimePoint> first;
  const auto take = [&first](TimePoint at) {
    if (!first || at < *first) first = at;
  };
  for (const Outstanding& one : outstanding_) take(one.deadline());
  if (link_up_)
    if (const auto look = presence_.next_look()) take(*look);
  for (const Task& task : plan_.tasks())
    if (const auto start = start_of(task)) take(*start);
  return first;
}

std::vector<Asker::NotAsked> Asker::not_asked() const {
  std::vector<NotAsked> list;
  for (const Task& task : plan_.tasks()) {
    if (task.state != TaskState::denied && task.state != TaskState::waiting) continue;
    const auto payload = task.payload();
    std::string what = hex_text(payload.data(), 1) + " " + hex_text(payload.data() + 1, payload.size() - 1);
    if (task.target) what += " of " + ecu_text(task.target->id, task.target->address);
    list.push_back({std::move(what), task.why});
  }
  return list;
}

bool Asker::finished() const {
  if (!scan_over()) return false;
  return outstanding_.empty() && settings_.purpose != PlanPurpose::job &&
         std::none_of(plan_.tasks().begin(), plan_.tasks().end(), [&](const Task& task) {
           // Where nobody answers, nobody is asked what he is.
           if (task.kind == TaskKind::information && !extended_known_) return false;
           return task.state == TaskState::active;  // only a job has questions that wait for their unit
         });
}

}  // namespace sumplog
