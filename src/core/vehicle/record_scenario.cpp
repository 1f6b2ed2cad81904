#include "core/vehicle/record_scenario.h"

#include <algorithm>

#include "core/item/item_text.h"
#include "core/vehicle/scripted_tester.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog {

std::vector<Item> record_scenario(const Scenario& scenario) {
  VirtualBus bus(scenario.bus, scenario.rates, scenario.start);
  Vehicle vehicle(scenario, scenario.start);
  ScriptedTester tester(scenario, scenario.start);
  bus.attach(vehicle);
  bus.attach(tester);

  std::vector<Item> items;
  bool connected = true;
  const auto play_until = [&](TimePoint at) {
    bus.run_until(at);
    for (CanFrame& frame : bus.take_frames()) {
      if (connected) items.emplace_back(frame);
    }
  };
  for (const ScenarioEvent& event : scenario.events) {
    const auto* change = std::get_if<TesterChange>(&event.change);
    if (change == nullptr) continue;
    play_until(scenario.start + event.at);
    if (const auto* clock = std::get_if<ClockChange>(change))
      items.emplace_back(ClockStep{scenario.start + event.at, clock->step});
    const auto* link = std::get_if<LinkChange>(change);
    if (link == nullptr) continue;
    connected = link->state == LinkState::up;
    bus.set_connected(tester, connected);
    if (connected) tester.forget_request();
    items.emplace_back(LinkEvent{scenario.start + event.at, scenario.bus, link->state});
  }
  play_until(scenario.start + scenario.lasts);
  return items;
}

Result<std::vector<Item>> record_scenario(std::string_view text, const std::string& name) {
  const Result<Scenario> scenario = parse_scenario(text, name);
  if (!scenario) return tl::unexpected(scenario.error());
  return record_scenario(*scenario);
}

std::string capture_text(std::span<const Item> items) {
  const bool frames_alone = std::all_of(
      items.begin(), items.end(), [](const Item& item) { return std::holds_alternative<CanFrame>(item); });
  std::string text;
  if (!frames_alone) text = std::string{kJobFileMagic} + '\n';
  for (const Item& item : items) {
    for (const std::string& line : item_lines(item)) text += line + '\n';
  }
  return text;
}

}  // namespace sumplog
