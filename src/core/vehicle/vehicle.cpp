#include "core/vehicle/vehicle.h"

#include <algorithm>

#include "core/vehicle/services.h"

namespace sumplog {

Vehicle::Vehicle(const Scenario& scenario, TimePoint start)
    : start_(start),
      functional_(scenario.functional_request()),
      drivetrain_(scenario, start),
      broadcaster_(scenario, start),
      others_(scenario.addresses()) {
  for (std::size_t i = 0; i < scenario.units.size(); ++i) units_.emplace_back(scenario, i);
  for (ControlUnit& unit : units_) unit.begin(drivetrain_);
  for (const ScenarioEvent& event : scenario.events) {
    if (!std::holds_alternative<TesterChange>(event.change)) events_.push_back(event);
  }
}

std::optional<TimePoint> Vehicle::deadline() const {
  std::optional<TimePoint> next = broadcaster_.deadline();
  const auto consider = [&next](std::optional<TimePoint> at) {
    if (at && (!next || *at < *next)) next = at;
  };
  for (const ControlUnit& unit : units_) consider(unit.deadline());
  consider(others_.deadline());
  if (next_event_ < events_.size()) consider(start_ + events_[next_event_].at);
  return next;
}

void Vehicle::fire_events(TimePoint now) {
  for (; next_event_ < events_.size() && start_ + events_[next_event_].at <= now; ++next_event_) {
    const ScenarioEvent& event = events_[next_event_];
    const TimePoint at = start_ + event.at;
    drivetrain_.advance_to(at);
    if (const auto* change = std::get_if<VehicleChange>(&event.change)) drivetrain_.apply(*change);
    if (const auto* change = std::get_if<UnitChange>(&event.change))
      units_.at(change->unit).apply(*change, at, drivetrain_);
    if (const auto* change = std::get_if<J1939CodeChange>(&event.change)) broadcaster_.apply(*change);
    if (const auto* cleared = std::get_if<CodesCleared>(&event.change)) {
      for (ControlUnit& unit : units_) unit.apply(*cleared, drivetrain_);
      broadcaster_.apply(*cleared);
    }
  }
}

void Vehicle::on_deadline(TimePoint now) {
  fire_events(now);
  drivetrain_.advance_to(now);
  for (auto due = others_.deadline(); due && *due <= now; due = others_.deadline()) {
    (void)others_.on_deadline(now);  // a request that never became whole: a unit has nobody to tell
  }
  for (ControlUnit& unit : units_) {
    for (auto due = unit.deadline(); due && *due <= now; due = unit.deadline())
      unit.on_deadline(now, drivetrain_);
  }
  broadcaster_.on_deadline(now, drivetrain_);
  collect();
}

void Vehicle::on_frame(const CanFrame& frame) {
  fire_events(frame.at);
  drivetrain_.advance_to(frame.at);
  broadcaster_.on_frame(frame, drivetrain_);
  bool for_a_unit = false;
  for (ControlUnit& unit : units_) {
    const auto request = unit.on_frame(frame);
    if (request) on_message(*request);
    for_a_unit = for_a_unit || unit.request_endpoint().id == frame.id;
  }
  const auto addressing = others_.book().classify(frame.id);
  if (!for_a_unit && addressing && addressing->role != Role::response) {
    const TransportStep step = others_.on_frame(frame);
    if (step.message) on_message(*step.message);
  }
  collect();
}

void Vehicle::on_message(const Message& message) {
  if (message.payload.empty()) return;
  const std::uint8_t service = message.payload.front();
  ++requests_[service];
  if (!only_reads(service)) ++forbidden_requests_;
  const bool functional = message.from == functional_;
  for (ControlUnit& unit : units_) {
    if (functional || message.from == unit.request_endpoint()) {
      unit.on_request(message.payload, functional, message.at);
    }
  }
}

void Vehicle::collect() {
  const auto take = [this](std::vector<CanFrame> frames) {
    outbox_.insert(outbox_.end(), frames.begin(), frames.end());
  };
  for (ControlUnit& unit : units_) take(unit.take_outbox());
  take(broadcaster_.take_outbox());
}

std::vector<CanFrame> Vehicle::take_outbox() {
  return std::exchange(outbox_, {});
}

}  // namespace sumplog
