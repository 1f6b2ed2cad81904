#include "core/vehicle/control_unit.h"

#include <algorithm>
#include <cassert>
#include <chrono>
#include <utility>

#include "core/diagnostics/service.h"
#include "core/vehicle/services.h"

namespace sumplog {
namespace {

// A unit needs a moment for each frame, so that two units that answer at once interleave; invented.
constexpr Duration kFrameGap = std::chrono::microseconds{700};
constexpr std::uint64_t kFrameGapJitter_us = 800;
constexpr std::size_t kFdFrameLength = 64;  // bytes, ISO 11898-1

SenderConfig sender_config(const Scenario& scenario, const UnitAddress& address) {
  SenderConfig config;
  config.from = {scenario.bus, address.response, address.response_address};
  config.flow_control_from = {scenario.bus, address.request, address.request_address};
  config.fd = config.bit_rate_switch = scenario.fd;
  if (scenario.fd) config.frame_length = kFdFrameLength;
  return config;
}

ReceiverConfig receiver_config(const SenderConfig& answers) {
  ReceiverConfig config;
  config.from = answers.flow_control_from;
  config.reply_to = answers.from;
  return config;
}

}  // namespace

ControlUnit::ControlUnit(const Scenario& scenario, std::size_t index)
    : plan_(scenario.units.at(index)),
      memory_(plan_.memory),
      vin_(scenario.vin),
      bus_(scenario.bus),
      random_(Random::at(scenario.seed, index)),
      sender_config_(sender_config(scenario, plan_.address)),
      sender_(sender_config_),
      receiver_(receiver_config(sender_config_)) {}

Endpoint ControlUnit::request_endpoint() const {
  return sender_config_.flow_control_from;
}

void ControlUnit::on_request(std::span<const std::uint8_t> request, bool functional, TimePoint at) {
  assert(!request.empty());
  if (!listens(at)) return;
  if (prepared_ || !sender_.idle()) {
    ++ignored_while_busy_;
    return;
  }
  const auto jitter = static_cast<std::uint64_t>(plan_.answer_jitter.count());
  Prepared prepared;
  prepared.request.assign(request.begin(), request.end());
  prepared.functional = functional;
  prepared.due = at + plan_.answer_after + Duration{static_cast<std::int64_t>(random_.below(jitter + 1))};
  if (pending_ && pending_->service == request.front()) {
    prepared.pending_left = pending_->times;
    prepared.pending_every = pending_->every;
    pending_.reset();
  }
  prepared_ = std::move(prepared);
}

std::optional<Message> ControlUnit::on_frame(const CanFrame& frame) {
  if (listens(frame.at)) emit(sender_.on_frame(frame), frame.at);
  TransportStep step = receiver_.on_frame(frame);
  if (step.reply && listens(frame.at)) outbox_.push_back(*step.reply);
  return std::move(step.message);
}

std::optional<TimePoint> ControlUnit::deadline() const {
  const auto timeout = receiver_.deadline();
  std::optional<TimePoint> next;
  if (prepared_) {
    next = prepared_->due;
  } else if (const auto frame = sender_.deadline()) {
    next = std::max(*frame, not_before_);
  }
  if (!timeout || !next) return timeout ? timeout : next;
  return std::min(*timeout, *next);
}

void ControlUnit::on_deadline(TimePoint now, const Drivetrain& drivetrain) {
  if (const auto timeout = receiver_.deadline(); timeout && *timeout <= now) {
    (void)receiver_.on_deadline(now);  // a request that never became whole: there is nobody to tell
    return;
  }
  if (!prepared_) {
    emit(sender_.on_deadline(now), now);
    return;
  }
  if (prepared_->pending_left > 0) {
    --prepared_->pending_left;
    prepared_->due = now + prepared_->pending_every;
    // A single frame, while the sender stays free for the answer itself.
    Sender pending(sender_config_);
    emit(pending.start(negative_response(prepared_->request.front(), service::kResponsePending), now), now);
    return;
  }
  const Prepared prepared = *std::exchange(prepared_, std::nullopt);
  const auto payload = answer(plan_, vin_, memory_, drivetrain, prepared.request, prepared.functional);
  if (!payload) return;
  consecutive_ = 0;
  lose_index_.reset();
  if (loses_ && loses_->service == prepared.request.front()) lose_index_ = loses_->index;
  emit(sender_.start(*payload, now), now);
}

void ControlUnit::emit(const SenderStep& step, TimePoint now) {
  if (!step.frame) return;
  not_before_ = now + kFrameGap + Duration{static_cast<std::int64_t>(random_.below(kFrameGapJitter_us))};
  const std::size_t at = sender_config_.from.address ? 1 : 0;
  if ((step.frame->bytes.at(at) & kPciTypeMask) == kPciConsecutive && ++consecutive_ == lose_index_) {
    lose_index_.reset();
    loses_.reset();
    return;
  }
  outbox_.push_back(*step.frame);
}

void ControlUnit::abandon() {
  prepared_.reset();
  sender_ = Sender(sender_config_);
  outbox_.clear();
}

void ControlUnit::apply(const UnitChange& change, TimePoint now, const Drivetrain& drivetrain) {
  struct Visitor {
    ControlUnit& unit;
    TimePoint now;
    const Drivetrain& drivetrain;
    void operator()(const SilenceChange& c) const {
      unit.silent_ = c.silent;
      if (c.silent) unit.abandon();
    }
    void operator()(const PendingAnswers& c) const { unit.pending_ = c; }
    void operator()(const LostConsecutive& c) const { unit.loses_ = c; }
    void operator()(const ResetChange& c) const {
      unit.abandon();
      unit.pending_.reset();
      unit.loses_.reset();
      unit.deaf_until_ = now + c.takes;
    }
    void operator()(const CodeSets& c) const { unit.memory_.apply(c, drivetrain); }
    void operator()(const CodeChanges& c) const { unit.memory_.apply(c, drivetrain); }
    void operator()(const CodeGoes& c) const { unit.memory_.apply(c, drivetrain); }
    void operator()(const CodesCleared& c) const { unit.memory_.apply(c, drivetrain); }
  };
  std::visit(Visitor{*this, now, drivetrain}, change.change);
}

}  // namespace sumplog
