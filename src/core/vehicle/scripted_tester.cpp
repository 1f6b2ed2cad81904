#include "core/vehicle/scripted_tester.h"

#include <algorithm>

#include "core/diagnostics/exchange.h"
#include "core/diagnostics/service.h"
#include "core/isotp/pci.h"
#include "core/vehicle/j1939_groups.h"

namespace sumplog {
namespace {

constexpr std::uint32_t kRequestGroup = 59904;  // SAE J1939-21
constexpr unsigned kRequestPriority = 6;        // SAE J1939-21
constexpr std::uint8_t kEverybody = 255;        // SAE J1939-21
constexpr std::uint8_t kServiceTool = 249;      // SAE J1939, off-board service tool #1
constexpr unsigned kBitsPerByte = 8;

CanFrame single_frame(const Endpoint& to, const std::vector<std::uint8_t>& payload, bool fd, TimePoint at) {
  std::vector<std::uint8_t> bytes;
  if (to.address) bytes.push_back(*to.address);
  bytes.push_back(static_cast<std::uint8_t>(kPciSingle | payload.size()));
  bytes.insert(bytes.end(), payload.begin(), payload.end());
  // ISO 15765-4: request frames have eight bytes.
  bytes.resize(std::max(bytes.size(), kClassicLength), kPaddingByte);
  CanFrame frame = data_frame(at, to.bus, to.id, bytes);
  frame.fd = frame.bit_rate_switch = fd;
  return frame;
}

CanFrame group_request(BusName bus, std::uint32_t group, TimePoint at) {
  const std::array<std::uint8_t, 3> bytes{static_cast<std::uint8_t>(group),
                                          static_cast<std::uint8_t>(group >> kBitsPerByte),
                                          static_cast<std::uint8_t>(group >> (2 * kBitsPerByte))};
  return data_frame(at, bus, j1939_id(kRequestPriority, kRequestGroup, kEverybody, kServiceTool), bytes);
}

}  // namespace

ScriptedTester::ScriptedTester(const Scenario& scenario, TimePoint start)
    : fd_(scenario.fd), start_(start), transport_(scenario.addresses()) {
  for (const AskPlan& plan : scenario.asks) {
    Ask ask{plan, scenario.functional_request(), std::nullopt, start + plan.at, false};
    if (plan.unit) {
      const UnitAddress& address = scenario.units.at(*plan.unit).address;
      ask.to = {scenario.bus, address.request, address.request_address};
      ask.answered_by = Endpoint{scenario.bus, address.response, address.response_address};
    }
    asks_.push_back(std::move(ask));
  }
}

std::optional<TimePoint> ScriptedTester::deadline() const {
  std::optional<TimePoint> next;
  const auto consider = [&next](std::optional<TimePoint> at) {
    if (at && (!next || *at < *next)) next = at;
  };
  for (const Ask& ask : asks_) {
    if (!ask.over) consider(ask.next);
  }
  if (waiting_) consider(waiting_->until);
  consider(transport_.deadline());
  return next;
}

void ScriptedTester::queue_due(TimePoint now) {
  for (std::size_t i = 0; i < asks_.size(); ++i) {
    Ask& ask = asks_[i];
    while (!ask.over && ask.next <= now) {
      // What is still in the queue from last time is not asked twice.
      if (std::find(ready_.begin(), ready_.end(), i) == ready_.end()) ready_.push_back(i);
      ask.next += ask.plan.every;
      ask.over =
          ask.plan.every == Duration::zero() || (ask.plan.until && ask.next > start_ + *ask.plan.until);
    }
  }
}

void ScriptedTester::send_next(TimePoint now) {
  if (waiting_ || ready_.empty()) return;
  const Ask& ask = asks_[ready_.front()];
  ready_.pop_front();
  if (ask.plan.group) {
    outbox_.push_back(group_request(ask.to.bus, *ask.plan.group, now));
    send_next(now);  // a request for a group is not answered in a dialogue
    return;
  }
  outbox_.push_back(single_frame(ask.to, ask.plan.payload, fd_, now));
  waiting_ = Waiting{ask.to, ask.answered_by, now + kP2Client};
}

void ScriptedTester::note(const TransportStep& step) {
  if (step.loss) lost_frames_ += step.loss->frames;
  if (step.reply) outbox_.push_back(*step.reply);
  if (step.message) on_answer(*step.message);
}

void ScriptedTester::on_deadline(TimePoint now) {
  for (auto due = transport_.deadline(); due && *due <= now; due = transport_.deadline()) {
    note(transport_.on_deadline(now));
  }
  // An answer that is being received holds the next request back, however long it takes.
  if (waiting_ && waiting_->until <= now) {
    if (const auto receiving = transport_.deadline()) {
      waiting_->until = *receiving;
    } else {
      waiting_.reset();
    }
  }
  queue_due(now);
  send_next(now);
}

void ScriptedTester::on_frame(const CanFrame& frame) {
  const auto addressing = transport_.book().classify(frame.id);
  if (addressing && addressing->role == Role::response) note(transport_.on_frame(frame));
  send_next(frame.at);
}

void ScriptedTester::on_answer(const Message& message) {
  answers_.push_back(message);
  if (!waiting_) return;
  constexpr std::size_t kNegativeBytes = 3;  // ISO 14229-1: 7F, service, code
  const bool pending = message.payload.size() >= kNegativeBytes &&
                       message.payload[0] == service::kNegativeResponse &&
                       message.payload[2] == service::kResponsePending;
  if (pending) {
    waiting_->until = message.at + kP2StarClient;
  } else if (waiting_->answered_by == message.from) {
    waiting_.reset();
  } else if (!waiting_->answered_by) {
    waiting_->until = message.at + kP2Client;
  }
}

}  // namespace sumplog
