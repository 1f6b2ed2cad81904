#include "core/diagnostics/unit_watch.h"

#include <algorithm>
#include <utility>

#include "core/isotp/addressing.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr int kMissed = 3;            // ours: once is chance, twice may be
constexpr Duration kSilentFor = 5s;   // ours: longer than a unit's restart, shorter than a person's patience
constexpr Duration kOtherGone = 20s;  // ours: a live job records it every ten seconds while it is there
constexpr std::size_t kMostUnits = 512;  // ours: as many as the transport knows

VehicleEvent event_at(TimePoint at, BusName bus) {
  VehicleEvent event{};
  event.at = at;
  event.bus = bus;
  return event;
}

VehicleEvent event_of(const Exchange& exchange, std::string state) {
  VehicleEvent event = event_at(exchange.ended_at, exchange.unit->bus);
  event.ecu = ecu_text(exchange.unit->id, exchange.unit->address);
  event.state = std::move(state);
  return event;
}

}  // namespace

void UnitWatch::on_exchange(const Exchange& exchange, std::vector<Event>& events) {
  if (!exchange.unit) return;
  const Endpoint& unit = *exchange.unit;
  if (exchange.result != ExchangeResult::silent) {
    if (units_.size() >= kMostUnits && !units_.contains(unit)) return;
    Known& known = units_[unit];
    if (known.silent) events.emplace_back(event_of(exchange, "answers again"));
    known = {exchange.ended_at, 0, false};
    return;
  }
  const auto found = units_.find(unit);
  if (found == units_.end()) return;
  Known& known = found->second;
  ++known.missed;
  if (known.silent || known.missed < kMissed || exchange.ended_at - known.answered_at < kSilentFor) return;
  known.silent = true;
  events.emplace_back(event_of(exchange, "silent"));
  const bool all = std::all_of(units_.begin(), units_.end(), [&](const auto& one) {
    return one.first.bus != unit.bus || one.second.silent;
  });
  if (!all) return;
  VehicleEvent none = event_at(exchange.ended_at, unit.bus);
  none.state = "no unit answers";
  none.why = "the ignition may be off";
  events.emplace_back(std::move(none));
}

void UnitWatch::on_other_tester(const OtherTester& other, TimePoint at, std::vector<Event>& events) {
  const auto [seen, first] = other_tester_at_.try_emplace(other.bus, at);
  const bool anew = first || at - seen->second >= kOtherGone;
  seen->second = at;
  if (!anew) return;
  VehicleEvent event = event_at(at, other.bus);
  event.state = "another tester asks on " + ecu_text(other.id);
  event.why = "nothing is asked while it is active; the answers that it gets are used";
  events.emplace_back(std::move(event));
}

}  // namespace sumplog
