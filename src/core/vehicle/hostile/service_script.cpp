#include "core/vehicle/hostile/service_script.h"

#include <chrono>

#include "core/vehicle/hostile/plan.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

// Everything in this file is invented.
constexpr std::uint64_t kServiceShortest_s = 2100;
constexpr std::uint64_t kServiceLongest_s = 3000;
constexpr Duration kHold = 4s;  // of each selector position; the demo family asks for three

double pick(Random& random, double low, double high) {
  return low + (high - low) * (Random::symmetric(random.next()) + 1) / 2;
}
bool chance(Random& random, unsigned percent) {
  return random.below(100) < percent;
}
Duration moment(Random& random, Duration low, Duration high) {
  return low + Duration{static_cast<Duration::rep>(
                   random.below(static_cast<std::uint64_t>((high - low).count()) + 1))};
}

QuantityRecord record_of(Quantity quantity, double offset, std::uint32_t no_value,
                         std::vector<std::uint32_t> codes = {}) {
  QuantityRecord record;
  record.quantity = quantity;
  record.coding.offset = offset;
  record.coding.no_value = no_value;
  record.coding.codes = std::move(codes);
  return record;
}

/// An engine and a transmission as decoders/demo-9 has them.
void add_units(Scenario& scenario, Random& random) {
  const auto address = [&](std::uint8_t unit11, std::uint8_t unit29) {
    UnitAddress one;
    if (scenario.extended_ids) {
      one.request = extended_id(0x18DA00F1U | static_cast<std::uint32_t>(unit29) << 8);
      one.response = extended_id(0x18DAF100U | unit29);
    } else {
      one.request = standard_id(0x7E0U + unit11);
      one.response = standard_id(0x7E8U + unit11);
    }
    return one;
  };
  UnitPlan engine;
  engine.id = "engine";
  engine.address = address(0, 0x10);
  engine.pids = {0x01, 0x04, 0x05, 0x0C, 0x0D, 0x0F, 0x11, 0x1C, 0x1F, 0x21, 0x42, 0x46, 0x5C};
  if (chance(random, 30)) engine.pids = {0x05, 0x0C, 0x0D};
  engine.tells_vin = true;
  engine.calibrations = {{"INVENTED-ENG-01", 0x1791BC82}};
  engine.name = "ECM-EngineControl";
  UnitPlan transmission;
  transmission.id = "transmission";
  transmission.address = address(1, 0x18);
  transmission.pids = {0x01, 0x0D, 0x42};
  transmission.name = "TCM-TransmissionCtl";
  transmission.dids.push_back({0x1A05, record_of(Quantity::fluid_temperature, -40, 0xFF)});
  transmission.dids.push_back({0x1A06, record_of(Quantity::selector_position, 0, 0xFF, {0, 1, 2, 3})});
  for (UnitPlan* unit : {&engine, &transmission}) {
    unit->answer_after = kLeastBetweenMessages + moment(random, 1ms, 40ms);
    unit->answer_jitter = moment(random, 0ms, 30ms);
    scenario.units.push_back(*unit);
  }
}

void add_selector_cycle(Scenario& scenario, Duration at) {
  for (const auto position : {SelectorPosition::reverse, SelectorPosition::neutral, SelectorPosition::drive,
                              SelectorPosition::park}) {
    scenario.events.push_back({at, VehicleChange{SelectorChange{position}}});
    at += kHold;
  }
}

void add_sensor_trouble(Scenario& scenario, Random& random) {
  const Duration at = moment(random, 10s, scenario.lasts);
  SensorChange trouble;
  trouble.state = chance(random, 70) ? SensorState::dead : SensorState::stuck;
  scenario.events.push_back({at, VehicleChange{trouble}});
  scenario.events.push_back({at + moment(random, 500ms, 20s), VehicleChange{SensorChange{}}});
}

void add_course(Scenario& scenario, Random& random) {
  if (!scenario.engine_runs)
    scenario.events.push_back({moment(random, 1s, 30s), VehicleChange{EngineChange{true}}});
  if (chance(random, 90)) add_selector_cycle(scenario, moment(random, 35s, 90s));
  if (chance(random, 30)) add_sensor_trouble(scenario, random);
  if (chance(random, 20))
    scenario.events.push_back({moment(random, 100s, scenario.lasts), VehicleChange{EngineChange{false}}});
  if (chance(random, 20)) {
    const Duration at = moment(random, 100s, scenario.lasts);
    scenario.events.push_back({at, VehicleChange{EngineSpeedChange{1500}}});
    scenario.events.push_back({at + 10s, VehicleChange{EngineSpeedChange{}}});
  }
}

/// Drained and filled cold, started, circuits filled, window, engine off, exchanged, and once more.
void add_service(Scenario& scenario, Random& random) {
  const auto add = [&](Duration at, VehicleChange change) { scenario.events.push_back({at, change}); };
  scenario.engine_runs = false;
  add(1min, FluidDrained{4.2});
  add(3min, FluidAdded{4.0, Celsius{20}});
  add(4min, EngineChange{true});
  add_selector_cycle(scenario, 4min + 20s);
  add(14min, EngineChange{false});
  add(16min, FluidDrained{4});
  add(18min, FluidAdded{4.2, Celsius{19}});
  add(19min, EngineChange{true});
  add_selector_cycle(scenario, 19min + 30s);
  if (chance(random, 50)) add_sensor_trouble(scenario, random);
  add(scenario.lasts - 2min, EngineChange{false});
}

}  // namespace

void make_vehicle(Scenario& scenario, Random& random, bool whole_service) {
  if (whole_service)
    scenario.lasts =
        std::chrono::seconds{kServiceShortest_s + random.below(kServiceLongest_s - kServiceShortest_s + 1)};
  scenario.bus = BusName("can0");
  scenario.vin = "0TESTGEA9FAKE0001";
  scenario.ambient = Celsius{pick(random, -15, 35)};
  const double fluid_c = pick(random, 24, 46);
  scenario.temperatures = {Celsius{fluid_c}, Celsius{fluid_c}, Celsius{fluid_c + pick(random, 0, 40)},
                           Celsius{fluid_c}};
  scenario.engine_runs = chance(random, 70);
  scenario.odometer_km = 84210;
  scenario.sensor_noise = CelsiusDifference{pick(random, 0, 0.6)};
  scenario.thermal.warmer_w_per_k = 60;

  const std::uint64_t kind = random.below(100);
  if (kind < 15) {
    scenario.title = "heavy vehicle, SAE J1939";
    scenario.extended_ids = true;
    scenario.rates.nominal = 250'000;
    J1939Plan groups;
    groups.engine_speed = groups.gears = groups.engine_temperature = groups.vehicle_speed =
        groups.transmission_fluids = 1s;
    groups.engine_speed = 500ms;
    groups.vehicle_identification = 10s;
    scenario.j1939 = groups;
  } else {
    scenario.extended_ids = kind < 25;
    scenario.fd = kind >= 90;
    scenario.title = scenario.extended_ids ? "29-bit identifiers"
                     : scenario.fd         ? "CAN FD"
                                           : "11-bit identifiers";
    add_units(scenario, random);
  }
  if (whole_service) {
    scenario.title += ", a whole service";
    add_service(scenario, random);
  } else {
    add_course(scenario, random);
  }
}

}  // namespace sumplog::hostile
