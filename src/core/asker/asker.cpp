#include "core/asker/asker.h"

#include <algorithm>
#include <cassert>

#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/isotp/pci.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr CanId kFunctional11 = standard_id(0x7DF);       // ISO 15765-4
constexpr CanId kFunctional29 = extended_id(0x18DB33F1);  // ISO 15765-4
constexpr std::size_t kMostPids = 6;                      // SAE J1979, service 01
constexpr std::size_t kMostPidsBesideAddress = 5;         // the address byte of extended addressing takes one

// Ours, no source.
constexpr Duration kEchoDue = 100ms;           // a request that does not come back by then was not sent
constexpr Duration kFirstBackOff = 500ms;      // doubles with each failure …
constexpr Duration kMostBackOff = 5s;          // … up to this
constexpr Duration kMostVinBackOff = 60s;      // the VIN can wait
constexpr Duration kBusyRetry = 500ms;         // after NRC 21
constexpr int kRefusalsBelieved = 3;           // in a row, of what the unit has given before
constexpr Duration kLongestAnswer = 60s;       // a unit that says "pending" for longer counts as silent
constexpr Duration::rep kClosestPercent = 80;  // of a period, between two requests while catching up
constexpr Duration kOtherTesterQuiet = 5s;  // ISO 14229-2 S3: by then a session of another tester has ended

// ISO 14229-1 negative response codes that will not change while we are only reading.
constexpr std::uint8_t kServiceNotSupported = 0x11;
constexpr std::uint8_t kSubFunctionNotSupported = 0x12;
constexpr std::uint8_t kBusyRepeatRequest = 0x21;
constexpr std::uint8_t kRequestOutOfRange = 0x31;
constexpr std::uint8_t kSecurityAccessDenied = 0x33;
constexpr std::uint8_t kSubFunctionNotInSession = 0x7E;
constexpr std::uint8_t kServiceNotInSession = 0x7F;

std::string_view denial_of(std::uint8_t code) {
  switch (code) {
    case kServiceNotSupported:
    case kSubFunctionNotSupported:
    case kRequestOutOfRange: return "the unit does not know this";
    case kSecurityAccessDenied: return "not readable without security access";
    case kSubFunctionNotInSession:
    case kServiceNotInSession: return "not readable without another session";
  }
  return {};
}

Duration back_off(int failures, Duration most) {
  Duration wait = kFirstBackOff;
  for (int i = 1; i < failures && wait < most; ++i) wait *= 2;
  return std::min(wait, most);
}

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

Duration period_of(const AskerSettings& settings) {
  assert(settings.readings_per_second > 0);
  return Duration{static_cast<Duration::rep>(1e6 / settings.readings_per_second)};
}

}  // namespace

TimePoint Asker::Outstanding::deadline() const {
  if (!echo) return handed + kEchoDue;
  TimePoint last = *echo + kP2Client;
  for (const auto& [unit, until] : busy) last = std::max(last, until);
  return std::min(last, *echo + kLongestAnswer);
}

Asker::Asker(const std::vector<Decoder>& decoders, AskerSettings settings, TimePoint start)
    : settings_(settings),
      book_(named_units(decoders)),
      plan_(decoders, settings.bus, period_of(settings), start) {}

void Asker::on_output(const Output& output, TimePoint now) {
  for (const Message& message : output.messages) on_message(message);
  for (const Endpoint& unit : output.receiving) on_receiving(unit, now);
  for (const Exchange& exchange : output.exchanges) on_exchange(exchange);
}

void Asker::on_message(const Message& message) {
  for (Outstanding& one : outstanding_) {
    if (!one.echo && one.request.to == message.from && one.request.payload == message.payload) {
      one.echo = message.at;
      unsent_ = 0;
      return;
    }
  }
  const auto& payload = message.payload;
  const bool pending = payload.size() >= 3 && payload[0] == service::kNegativeResponse &&
                       payload[2] == service::kResponsePending;
  if (!pending) return;
  for (Outstanding& one : outstanding_)
    if (one.request.payload[0] == payload[1] && book_.may_answer(one.request.to, message.from))
      one.busy[message.from] = message.at + kP2StarClient;
}

void Asker::on_receiving(const Endpoint& unit, TimePoint now) {
  for (Outstanding& one : outstanding_)
    if (one.echo && book_.may_answer(one.request.to, unit)) one.busy[unit] = now + kNCr;
}

void Asker::on_exchange(const Exchange& exchange) {
  const auto found = std::find_if(outstanding_.begin(), outstanding_.end(), [&](const Outstanding& one) {
    // The time tells it from an earlier one with the same words that the pairing closes only now.
    return one.echo == exchange.asked_at && one.request.to == exchange.request &&
           one.request.payload == exchange.asked;
  });
  if (found == outstanding_.end()) {
    // An answer that came after we had given up: the unit is there.
    if (exchange.result != ExchangeResult::silent) silent_.erase(exchange.request);
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
    case TaskKind::parameter:
    case TaskKind::identifier:
      if (!outstanding.answered) task.target = book_.request_to(*exchange.unit);
      break;
  }
  outstanding.answered = true;
}

void Asker::finish_all_units(const Outstanding& outstanding, TimePoint now) {
  Task& task = plan_.tasks()[outstanding.tasks.front()];
  const Duration most = task.kind == TaskKind::vin ? kMostVinBackOff : kMostBackOff;
  if (!outstanding.answered) {
    ++task.failures;
    task.due = now + back_off(task.failures, most);
    if (!extended_known_ && task.kind == TaskKind::support) extended_ = !extended_;
  } else {
    task.failures = 0;
    if (task.period == Duration::zero()) task.state = TaskState::done;
  }
  if (task.kind == TaskKind::support) {
    greeted_ = true;
    // May add a task: `task` is not valid after it.
    if (outstanding.answered) plan_.on_range_known(book_, static_cast<std::uint8_t>(task.id), now);
  }
}

void Asker::finish_unit(const Outstanding& outstanding, const Exchange* exchange, TimePoint now) {
  const Endpoint& to = outstanding.request.to;
  const bool together = outstanding.tasks.size() > 1;
  Several& several = several_[to];
  if (exchange == nullptr || exchange->result == ExchangeResult::silent) {
    Silence& silence = silent_[to];
    ++silence.count;
    silence.until = now + back_off(silence.count, kMostBackOff);
    // Silent to several PIDs: perhaps that is why. Silent to one as well: it was not.
    if (together) {
      several = Several::doubted;
    } else if (several == Several::doubted) {
      several = Several::yes;
    }
    for (const std::size_t index : outstanding.tasks) plan_.tasks()[index].due = silence.until;
    return;
  }
  silent_.erase(to);
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
    plan_.tasks()[index].failures = 0;
    plan_.tasks()[index].answered = true;
  }
}

void Asker::deny_or_retry(const Outstanding& outstanding, std::uint8_t code, TimePoint now) {
  const std::string_view denial = denial_of(code);
  for (const std::size_t index : outstanding.tasks) {
    Task& task = plan_.tasks()[index];
    if (code == kBusyRepeatRequest) {
      task.due = std::max(task.due, now + kBusyRetry);
      continue;
    }
    if (outstanding.tasks.size() > 1) {
      several_[outstanding.request.to] = Several::no;  // the next ones are asked alone, and denied alone
      continue;
    }
    ++task.failures;
    // A refusal names the service and not the identifier (ISO 14229-1): it may be the answer to another tester.
    const bool believed = !task.answered || task.failures >= kRefusalsBelieved;
    if (!denial.empty() && believed) {
      task.state = TaskState::denied;
      task.why = denial;
    } else {
      task.due = std::max(task.due, now + back_off(task.failures, kMostBackOff));
    }
  }
}

void Asker::retry_unsent(std::size_t index, TimePoint now) {
  const Outstanding over = std::move(outstanding_[index]);
  outstanding_.erase(outstanding_.begin() + static_cast<std::ptrdiff_t>(index));
  ++unsent_;
  quiet_until_ = std::max(quiet_until_, now + back_off(unsent_, kMostBackOff));
  for (const std::size_t task : over.tasks) plan_.tasks()[task].due = now;
}

void Asker::on_not_sent(const Request& request, TimePoint now) {
  for (std::size_t i = 0; i < outstanding_.size(); ++i) {
    if (outstanding_[i].request.to == request.to && outstanding_[i].request.payload == request.payload) {
      retry_unsent(i, now);
      return;
    }
  }
}

void Asker::on_refused(const Request& request, GuardRefusal refusal) {
  const auto found = std::find_if(outstanding_.begin(), outstanding_.end(), [&](const Outstanding& one) {
    return one.request.to == request.to && one.request.payload == request.payload;
  });
  if (found == outstanding_.end()) return;
  for (const std::size_t index : found->tasks) {
    Task& task = plan_.tasks()[index];
    task.state = TaskState::denied;
    task.why = text_of(refusal);
    if (task.kind == TaskKind::support) greeted_ = true;  // nobody else need wait for it
  }
  outstanding_.erase(found);
}

void Asker::on_link(LinkState state, TimePoint now) {
  switch (state) {
    case LinkState::error_passive: return;
    case LinkState::up: link_up_ = true; return;
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
  quiet_until_ = std::max(quiet_until_, at + kOtherTesterQuiet);
}

Endpoint Asker::endpoint_of(const Task& task) const {
  if (task.target) return *task.target;
  return Endpoint{settings_.bus, extended_ ? kFunctional29 : kFunctional11, std::nullopt};
}

bool Asker::is_outstanding(const Endpoint& to) const {
  return std::any_of(outstanding_.begin(), outstanding_.end(),
                     [&](const Outstanding& one) { return one.functional || one.request.to == to; });
}

/// When the task may start, apart from what is outstanding now.
std::optional<TimePoint> Asker::unblocked_start_of(const Task& task) const {
  if (task.state != TaskState::active || !link_up_) return std::nullopt;
  if (!greeted_ && task.kind != TaskKind::support) return std::nullopt;
  TimePoint start = std::max(task.due, quiet_until_);
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
  if (first.kind != TaskKind::parameter || !first.target || !pid_length(static_cast<std::uint8_t>(first.id)))
    return;
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
  auto& tasks = plan_.tasks();
  std::optional<std::size_t> best;
  std::optional<TimePoint> best_start;
  for (std::size_t i = 0; i < tasks.size(); ++i) {
    const auto start = start_of(tasks[i]);
    if (!start || *start > now) continue;
    if (best &&
        (tasks[*best].rank < tasks[i].rank || (tasks[*best].rank == tasks[i].rank && *best_start <= *start)))
      continue;
    best = i;
    best_start = start;
  }
  if (!best) return std::nullopt;
  Outstanding outstanding;
  outstanding.tasks.push_back(*best);
  outstanding.request = Request{endpoint_of(tasks[*best]), tasks[*best].payload()};
  outstanding.functional = !tasks[*best].target;
  outstanding.handed = now;
  gather_parameters(outstanding, now);
  for (const std::size_t index : outstanding.tasks) tasks[index].due = next_due(tasks[index], now);
  outstanding_.push_back(outstanding);
  return outstanding.request;
}

void Asker::on_deadline(TimePoint now) {
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

}  // namespace sumplog
