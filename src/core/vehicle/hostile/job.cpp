#include "core/vehicle/hostile/job.h"

#include <algorithm>

#include "core/job/job_settings.h"
#include "core/journal/event.h"
#include "core/vehicle/simulated_job.h"

namespace sumplog::hostile {
namespace {

/// So often may something happen at one moment before it counts as standing still: a bug, of whoever does it.
constexpr int kMostStepsAtOnce = 2'000;

// linux/can/error.h, class bits of an error frame's identifier.
constexpr std::uint32_t kControllerProblem = 0x04;
constexpr std::uint32_t kNoAcknowledge = 0x20;
constexpr std::uint32_t kBusOff = 0x40;
constexpr std::uint32_t kBusError = 0x80;
constexpr std::uint32_t kRestarted = 0x100;
constexpr std::size_t kErrorFrameLength = 8;  // linux/can/error.h, CAN_ERR_DLC

constexpr Duration kLargestClockStep = std::chrono::hours{24};

}  // namespace

std::vector<Item> opening_of(const Plan& plan, const std::vector<DecoderText>& texts) {
  const TimePoint start = plan.scenario.start;
  Settings settings{start, "00000000000000000000000000000000", "sumplog", "", {}};
  const bool j1939 = plan.scenario.j1939.has_value();
  if (j1939) settings.values.emplace_back("window", "35:45");
  std::vector<Item> items{settings};
  for (const DecoderText& text : texts) {
    // A job has the decoder of its vehicle, and the standard's parameters.
    if (text.name.starts_with(j1939 ? "demo-9/" : "j1939-transmission/")) continue;
    items.emplace_back(DecoderText{start, text.name, text.text});
  }
  return items;
}

void Job::HardOfHearing::on_frame(const CanFrame& frame) {
  if (!line_.unheard(frame.at)) vehicle_.on_frame(frame);
}

Job::Job(const Plan& plan, std::vector<Item> header, Record record, MemoryWatch memory)
    : plan_(plan),
      start_(plan.scenario.start),
      end_(plan.scenario.start + plan.scenario.lasts),
      decoders_(decoders_of(header)),
      kept_(decoders_),
      vehicle_(plan.scenario, start_),
      line_(plan),
      hearing_(vehicle_, line_),
      intruder_(plan),
      bus_(plan.scenario.bus, plan.scenario.rates, start_),
      record_(std::move(record)),
      memory_(std::move(memory)) {
  bus_.attach(hearing_);
  bus_.attach(intruder_);
  bus_.attach(port_);
  memory_.enter();
  live_.emplace(decoders_, plan.scenario.bus, start_);
  for (const Item& item : header) {
    LiveOutput out;
    live_->on_past(item, out);
  }
  memory_.leave();
  trace_.items = std::move(header);
}

TimePoint Job::next_event() const {
  TimePoint next = end_;
  const auto take = [&next](std::optional<TimePoint> at) {
    if (at) next = std::min(next, *at);
  };
  take(bus_.next_event());
  take(live_->deadline());
  take(line_.deadline());
  take(link_back_);
  if (!held_.empty()) take(held_.begin()->first);
  if (next_act_ < plan_.acts.size()) take(start_ + plan_.acts[next_act_].at);
  return std::max(next, bus_.now());
}

Result<void> Job::run() {
  while (bus_.now() < end_)
    if (auto done = step(); !done) return done;
  return {};
}

Result<void> Job::step() {
  bus_.run_until(next_event());
  const TimePoint now = bus_.now();
  steps_at_once_ = now == last_step_ ? steps_at_once_ + 1 : 0;
  last_step_ = now;
  if (steps_at_once_ > kMostStepsAtOnce) return fault("the job asks for the same moment again and again");

  for (CanFrame& frame : bus_.take_frames()) trace_.wire.push_back(frame);
  for (const CanFrame& frame : port_.take_heard()) line_.on_frame(frame, now);
  for (; misplaced_seen_ < line_.misplaced().size(); ++misplaced_seen_)
    trace_.wire.push_back(line_.misplaced()[misplaced_seen_]);
  if (link_back_ && *link_back_ <= now) {
    link_back_.reset();
    if (auto done = change_link(LinkState::up); !done) return done;
  }
  for (; next_act_ < plan_.acts.size() && start_ + plan_.acts[next_act_].at <= now; ++next_act_)
    if (auto done = act(plan_.acts[next_act_]); !done) return done;
  for (; !held_.empty() && held_.begin()->first <= now; held_.erase(held_.begin()))
    if (link_up_) port_.send(held_.begin()->second);
  bus_.collect();
  for (const Item& item : line_.take(now)) {
    const auto* frame = std::get_if<CanFrame>(&item);
    if (frame != nullptr && !kept_.keeps(*frame)) continue;
    if (auto done = record(item); !done) return done;
  }
  LiveOutput out;
  memory_.enter();
  live_->on_time(now, out);
  memory_.leave();
  return carry_out(std::move(out));
}

Result<void> Job::act(const Act& one) {
  const TimePoint now = bus_.now();
  switch (one.kind) {
    case ActKind::link_down:
    case ActKind::link_gone:
    case ActKind::bus_off:
      if (!link_up_) return {};
      link_back_ = now + one.lasts;
      if (one.kind == ActKind::bus_off) {
        // The error frame comes first, the news of the link after it; or the other way round.
        if (one.seed % 2 == 0)
          if (auto done = error_frame(kBusOff); !done) return done;
        auto done = change_link(LinkState::bus_off);
        if (!done || one.seed % 2 == 0) return done;
        return error_frame(kBusOff);
      }
      return change_link(one.kind == ActKind::link_gone ? LinkState::gone : LinkState::down);
    case ActKind::error_passive:
      if (!link_up_) return {};
      return record(LinkEvent{now, plan_.scenario.bus, LinkState::error_passive});
    case ActKind::error_frames:
      for (const std::uint32_t classes :
           {kControllerProblem, kNoAcknowledge, kBusError, kControllerProblem | kBusError})
        if (auto done = error_frame(classes); !done) return done;
      return one.seed % 4 == 0 && link_up_ ? error_frame(kRestarted) : Result<void>{};
    case ActKind::clock_step: {
      const auto most = static_cast<std::uint64_t>(2 * kLargestClockStep.count());
      return record(
          ClockStep{now, Duration{static_cast<Duration::rep>(one.seed % most)} - kLargestClockStep});
    }
    case ActKind::restart: return restart();
    case ActKind::flood:
    case ActKind::giants:
    case ActKind::strays:
    case ActKind::odd_frames:
    case ActKind::remote_frames:
    case ActKind::ghosts:
    case ActKind::pending_for_ever:
    case ActKind::other_tester:
    case ActKind::many_transfers:
    case ActKind::announcements: intruder_.begin(one, now); break;
  }
  return {};
}

Result<void> Job::error_frame(std::uint32_t classes) {
  CanFrame frame;
  frame.at = bus_.now();
  frame.bus = plan_.scenario.bus;
  frame.kind = FrameKind::error;
  frame.id.value = classes;
  frame.length = kErrorFrameLength;
  return record(frame);
}

Result<void> Job::change_link(LinkState state) {
  link_up_ = state == LinkState::up;
  bus_.set_connected(port_, link_up_);
  if (!link_up_) line_.drop();
  return record(LinkEvent{bus_.now(), plan_.scenario.bus, state});
}

/// As `serve --job` does: silent replay of what the file holds, then `resume`.
Result<void> Job::restart() {
  memory_.enter();
  live_.emplace(decoders_, plan_.scenario.bus, bus_.now());
  for (const Item& item : trace_.items) {
    LiveOutput out;
    live_->on_past(item, out);
  }
  memory_.leave();
  return record(Resume{bus_.now()});
}

Result<void> Job::record(const Item& item) {
  auto written = record_(item);
  if (!written) return tl::unexpected(written.error());
  LiveOutput out;
  memory_.enter();
  live_->on_written(*written, out);
  memory_.leave();
  trace_.items.push_back(std::move(*written));
  return carry_out(std::move(out));
}

Result<void> Job::carry_out(LiveOutput&& out) {
  for (const Event& event : out.events) {
    trace_.journal.push_back(journal_line(event));
    trace_.said_at.push_back(bus_.now());
  }
  for (const GuardedFrame& frame : out.send) send(frame);
  if (!out.send.empty()) bus_.collect();
  for (const Item& item : out.record)
    if (auto done = record(item); !done) return done;
  return {};
}

void Job::send(const GuardedFrame& frame) {
  const TimePoint now = bus_.now();
  CanFrame copy = frame.frame();
  copy.at = now;
  trace_.sent.push_back({copy, trace_.items.size()});
  if (!link_up_) {
    live_->on_not_sent(frame);
    return;
  }
  switch (line_.send(now)) {
    case Line::Sending::passes: port_.send(copy); break;
    case Line::Sending::refused: live_->on_not_sent(frame); break;
    case Line::Sending::vanishes: break;
    case Line::Sending::held: held_.emplace(now + line_.holding_time(), copy); break;
  }
}

void Job::on_closed(const Item& end) {
  LiveOutput out;
  memory_.enter();
  live_->on_written(end, out);
  memory_.leave();
  trace_.items.push_back(end);
  for (const Event& event : out.events) {
    trace_.journal.push_back(journal_line(event));
    trace_.said_at.push_back(bus_.now());
  }
}

}  // namespace sumplog::hostile
