#include "core/vehicle/simulated_job.h"

#include <algorithm>

#include "core/job/job_settings.h"

namespace sumplog {

namespace {

AskerSettings asking_on(BusName bus, const std::optional<AskerSettings>& asking) {
  AskerSettings settings = asking.value_or(AskerSettings{});
  settings.bus = bus;
  return settings;
}

}  // namespace

SimulatedJob::SimulatedJob(const Scenario& scenario, TimePoint start, const std::vector<Item>& header,
                           Record record, const std::optional<AskerSettings>& asking)
    : end_(start + scenario.lasts),
      name_(scenario.bus),
      vehicle_(scenario, start),
      bus_(scenario.bus, scenario.rates, start),
      live_(decoders_of(header), asking_on(scenario.bus, asking), start),
      record_(std::move(record)) {
  for (const ScenarioEvent& event : scenario.events)
    if (const auto* change = std::get_if<TesterChange>(&event.change))
      changes_.emplace_back(start + event.at, *change);
  for (const EntryPlan& one : scenario.entries)
    entries_.push_back(
        Entry{start + one.at, "scenario-" + std::to_string(entries_.size() + 1), one.name, one.fields});
  bus_.attach(vehicle_);
  bus_.attach(port_);
  LiveOutput out;
  for (const Item& item : header) live_.on_written(item, out);
}

Result<bool> SimulatedJob::step(std::vector<Event>& events) {
  TimePoint next = end_;
  if (const auto due = bus_.next_event()) next = std::min(next, *due);
  if (const auto due = live_.deadline()) next = std::min(next, *due);
  if (!changes_.empty()) next = std::min(next, changes_.front().first);
  if (!entries_.empty()) next = std::min(next, entries_.front().at);
  bus_.run_until(std::max(next, bus_.now()));
  (void)bus_.take_frames();  // the port has heard them; kept, they would be memory without a bound
  while (!changes_.empty() && changes_.front().first <= bus_.now()) {
    const TesterChange change = changes_.front().second;
    changes_.pop_front();
    if (auto done = apply(change, events); !done) return tl::unexpected(done.error());
  }
  for (const CanFrame& frame : port_.take_heard())
    if (auto done = record(frame, events); !done) return tl::unexpected(done.error());
  if (auto done = enter_what_is_due(events); !done) return tl::unexpected(done.error());
  LiveOutput out;
  live_.on_time(bus_.now(), out);
  if (auto done = carry_out(std::move(out), events); !done) return tl::unexpected(done.error());
  return bus_.now() < end_;
}

Result<void> SimulatedJob::enter(const Entry& entry, std::vector<Event>& events) {
  return record(entry, events);
}

Result<void> SimulatedJob::enter_what_is_due(std::vector<Event>& events) {
  while (!entries_.empty() && entries_.front().at <= bus_.now()) {
    Entry entry = std::move(entries_.front());
    entries_.pop_front();
    entry.at = bus_.now();
    if (auto done = record(entry, events); !done) return done;
  }
  return {};
}

void SimulatedJob::on_closed(const Item& end, std::vector<Event>& events) {
  LiveOutput out;
  live_.on_written(end, out);
  events.insert(events.end(), out.events.begin(), out.events.end());
}

Result<void> SimulatedJob::apply(const TesterChange& change, std::vector<Event>& events) {
  if (const auto* clock = std::get_if<ClockChange>(&change))
    return record(ClockStep{bus_.now(), clock->step}, events);
  const LinkState state = std::get<LinkChange>(change).state;
  bus_.set_connected(port_, state == LinkState::up || state == LinkState::error_passive);
  return record(LinkEvent{bus_.now(), name_, state}, events);
}

Result<void> SimulatedJob::record(const Item& item, std::vector<Event>& events) {
  auto written = record_(item);
  if (!written) return tl::unexpected(written.error());
  LiveOutput out;
  live_.on_written(*written, out);
  return carry_out(std::move(out), events);
}

Result<void> SimulatedJob::carry_out(LiveOutput&& out, std::vector<Event>& events) {
  events.insert(events.end(), std::make_move_iterator(out.events.begin()),
                std::make_move_iterator(out.events.end()));
  for (const GuardedFrame& frame : out.send) port_.send(frame.frame());
  if (!out.send.empty()) bus_.collect();
  for (const Item& item : out.record)
    if (auto done = record(item, events); !done) return done;
  return {};
}

}  // namespace sumplog
