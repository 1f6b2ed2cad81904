#include "app/simulated_port.h"

#include <algorithm>
#include <iterator>
#include <variant>

namespace sumplog {

SimulatedPort::SimulatedPort(boost::asio::io_context& loop, Scenario scenario)
    : scenario_(std::move(scenario)), timer_(loop) {}

void SimulatedPort::enter_at(Duration after, std::string id, std::string name, std::string fields) {
  entries_.emplace_back(after, Entry{{}, std::move(id), std::move(name), std::move(fields)});
}

void SimulatedPort::begin(Owner owner) {
  owner_ = std::move(owner);
  start_ = owner_.now();
  end_ = start_ + scenario_.lasts;
  vehicle_.emplace(scenario_, start_);
  bus_.emplace(scenario_.bus, scenario_.rates, start_);
  bus_->attach(*vehicle_);
  bus_->attach(plug_);
  for (const ScenarioEvent& event : scenario_.events)
    if (const auto* change = std::get_if<TesterChange>(&event.change))
      changes_.emplace_back(start_ + event.at, *change);
  wait();
}

void SimulatedPort::receive(JobTime& time, ReceivedFrames& out) {
  if (!bus_) return;
  advance(time.now());
  auto heard = plug_.take_heard();
  out.frames.insert(out.frames.end(), std::make_move_iterator(heard.begin()),
                    std::make_move_iterator(heard.end()));
  wait();
}

bool SimulatedPort::send(const GuardedFrame& frame) {
  plug_.send(frame.frame());
  bus_->collect();
  wait();
  return true;
}

void SimulatedPort::advance(TimePoint now) {
  while (!changes_.empty() && changes_.front().first <= now) {
    const auto [at, change] = changes_.front();
    changes_.pop_front();
    bus_->run_until(std::max(at, bus_->now()));
    apply(change);
  }
  while (!entries_.empty() && start_ + entries_.front().first <= now) {
    Entry entry = std::move(entries_.front().second);
    entry.at = now;
    entries_.pop_front();
    owner_.record(std::move(entry));
  }
  bus_->run_until(std::max(now, bus_->now()));
  (void)bus_->take_frames();  // the plug has heard them; kept, they would be memory without a bound
}

void SimulatedPort::apply(const TesterChange& change) {
  if (const auto* clock = std::get_if<ClockChange>(&change)) {
    owner_.record(ClockStep{bus_->now(), clock->step});
    return;
  }
  const LinkState state = std::get<LinkChange>(change).state;
  bus_->set_connected(plug_, state == LinkState::up || state == LinkState::error_passive);
  owner_.record(LinkEvent{bus_->now(), scenario_.bus, state});
}

void SimulatedPort::go_on() {
  if (!over_ && owner_.now() >= end_) {
    over_ = true;
    owner_.over();
    return;
  }
  owner_.frames_wait();
  wait();
}

/// Sleeps until something happens in the vehicle.
void SimulatedPort::wait() {
  TimePoint next = end_;
  if (const auto due = bus_->next_event()) next = std::min(next, *due);
  if (!changes_.empty()) next = std::min(next, changes_.front().first);
  if (!entries_.empty()) next = std::min(next, start_ + entries_.front().first);
  timer_.expires_after(std::max(next - owner_.now(), Duration{0}));
  timer_.async_wait([this](boost::system::error_code cancelled) {
    if (!cancelled && !over_) go_on();
  });
}

}  // namespace sumplog
