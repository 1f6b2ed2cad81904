#include "core/vehicle/virtual_bus.h"

#include <algorithm>
#include <cassert>
#include <stdexcept>

namespace sumplog {
namespace {

/// A node that asks for the same moment again and again would stop time: a bug of the node, said loudly.
constexpr int kMostRoundsAtOnce = 10'000;

}  // namespace

VirtualBus::VirtualBus(BusName name, BitRates rates, TimePoint start)
    : name_(name), rates_(rates), now_(start) {}

void VirtualBus::attach(Node& node) {
  stations_.push_back({&node, true, {}});
}

void VirtualBus::set_connected(Node& node, bool connected) {
  for (Station& station : stations_) {
    if (station.node != &node) continue;
    station.connected = connected;
    if (!connected) station.waiting.clear();
  }
}

std::optional<TimePoint> VirtualBus::next_deadline() const {
  std::optional<TimePoint> next;
  for (const Station& station : stations_) {
    const auto one = station.node->deadline();
    if (one && (!next || *one < *next)) next = one;
  }
  // A deadline that was set for the past fires now: time does not run backwards.
  if (next) next = std::max(*next, now_);
  return next;
}

std::optional<TimePoint> VirtualBus::next_event() const {
  const auto deadline = next_deadline();
  if (!on_wire_) return deadline;
  return deadline ? std::min(*deadline, on_wire_->at) : on_wire_->at;
}

void VirtualBus::run_until(TimePoint end) {
  collect();
  int rounds = 0;
  while (const auto next = next_event()) {
    if (*next > end) break;
    rounds = *next == now_ ? rounds + 1 : 0;
    if (rounds > kMostRoundsAtOnce) throw std::logic_error("a node on the virtual bus never lets time go on");
    now_ = *next;
    if (const auto deadline = next_deadline(); deadline && *deadline <= now_) {
      fire(now_);
    } else {
      deliver();
    }
    collect();
  }
  now_ = std::max(now_, end);
}

void VirtualBus::fire(TimePoint at) {
  for (const Station& station : stations_) {
    const auto due = station.node->deadline();
    if (due && *due <= at) station.node->on_deadline(at);
  }
}

void VirtualBus::deliver() {
  assert(on_wire_);
  const CanFrame frame = *on_wire_;
  on_wire_.reset();
  passed_.push_back(frame);
  for (const Station& station : stations_) {
    if (station.connected) station.node->on_frame(frame);
  }
}

void VirtualBus::collect() {
  for (Station& station : stations_) {
    for (const CanFrame& frame : station.node->take_outbox()) {
      if (station.connected) station.waiting.push_back(frame);
    }
  }
  if (!on_wire_) arbitrate();
}

void VirtualBus::arbitrate() {
  Station* winner = nullptr;
  std::deque<CanFrame>::iterator best;
  for (Station& station : stations_) {
    for (auto it = station.waiting.begin(); it != station.waiting.end(); ++it) {
      if (winner != nullptr && !wins_arbitration(*it, *best)) continue;
      winner = &station;
      best = it;
    }
  }
  if (winner == nullptr) return;
  on_wire_ = *best;
  winner->waiting.erase(best);
  on_wire_->bus = name_;
  on_wire_->at = now_ + wire_time(*on_wire_, rates_);
}

}  // namespace sumplog
