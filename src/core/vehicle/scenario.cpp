#include "core/vehicle/scenario.h"

#include <algorithm>
#include <array>

#include "core/diagnostics/vin.h"
#include "core/vehicle/scenario_table.h"

namespace sumplog {
namespace {

constexpr std::array kTopKeys =
    std::to_array<std::string_view>({"format", "title", "seed", "start_s", "lasts_s", "vin", "bus", "vehicle",
                                     "heat", "ecu", "j1939", "background", "event", "ask", "entry"});
constexpr std::array kBusKeys =
    std::to_array<std::string_view>({"name", "identifiers", "frames", "bit_rate", "data_bit_rate"});
constexpr std::array kVehicleKeys =
    std::to_array<std::string_view>({"ambient_c", "fluid_c", "case_c", "coolant_c", "engine", "selector",
                                     "fan", "odometer_km", "sensor_noise_c"});

constexpr std::int64_t kFormat = 1;
constexpr std::int64_t kMostSeed = 1'000'000'000;
constexpr std::int64_t kLatestStart_s = 4'000'000'000;  // year 2096
constexpr std::int64_t kUsualStart_s = 1'700'000'000;   // an arbitrary moment of 2023
constexpr double kLowest_c = -60;
constexpr double kHighest_c = 200;
constexpr double kUsualAmbient_c = 20;
constexpr double kMostOdometer_km = 400'000'000;
constexpr double kMostNoise_c = 10;
constexpr std::int64_t kLeastBitRate = 10'000;
constexpr std::int64_t kMostBitRate = 8'000'000;
constexpr std::int64_t kStandardBits = 11;
constexpr std::int64_t kExtendedBits = 29;
// Says what it is, in the alphabet of ISO 3779: a test car, a fake. Its check digit holds (49 CFR 565).
constexpr std::string_view kInventedVin = "0TESTCAR7FAKE0001";
constexpr std::uint32_t kFunctional11 = 0x7DF;       // ISO 15765-4
constexpr std::uint32_t kFunctional29 = 0x18DB33F1;  // ISO 15765-4

void read_bus(const TomlTable& table, Scenario& scenario) {
  constexpr std::array kFrames = std::to_array<std::string_view>({"classic", "fd"});
  table.allow_only(kBusKeys);
  const std::string name = table.text("name").value_or("can0");
  if (name.size() > BusName::kMaxLength || name.find_first_of(" \t\n/") != std::string::npos) {
    table.mistake(table.line_of("name"), "'name' must be an interface name: up to 15 characters, no blank");
  }
  scenario.bus = BusName(name);
  const std::int64_t bits =
      table.integer("identifiers", kStandardBits, kExtendedBits).value_or(kStandardBits);
  if (bits != kStandardBits && bits != kExtendedBits) {
    table.mistake(table.line_of("identifiers"), "'identifiers' must be 11 or 29 (bits)");
  }
  scenario.extended_ids = bits == kExtendedBits;
  scenario.fd = table.word("frames", kFrames).value_or(0) == 1;
  const auto rate = [&](std::string_view key, std::uint32_t& to) {
    if (const auto value = table.integer(key, kLeastBitRate, kMostBitRate))
      to = static_cast<std::uint32_t>(*value);
  };
  rate("bit_rate", scenario.rates.nominal);
  rate("data_bit_rate", scenario.rates.data);
}

void read_vehicle(const TomlTable& table, Scenario& scenario) {
  constexpr std::array kEngine = std::to_array<std::string_view>({"stopped", "running"});
  table.allow_only(kVehicleKeys);
  const double ambient = table.number("ambient_c", kLowest_c, kHighest_c).value_or(kUsualAmbient_c);
  // What is not named has soaked in the ambient air.
  const auto temperature = [&](std::string_view key) {
    return Celsius{table.number(key, kLowest_c, kHighest_c).value_or(ambient)};
  };
  scenario.ambient = {ambient};
  scenario.temperatures = {temperature("fluid_c"), temperature("case_c"), temperature("coolant_c"), {}};
  scenario.temperatures.sensor = scenario.temperatures.fluid;
  scenario.engine_runs = table.word("engine", kEngine).value_or(0) == 1;
  scenario.selector = static_cast<SelectorPosition>(table.word("selector", selector_names()).value_or(0));
  scenario.fan_runs = table.flag("fan").value_or(false);
  scenario.odometer_km = table.number("odometer_km", 0, kMostOdometer_km).value_or(0);
  scenario.sensor_noise = {table.number("sensor_noise_c", 0, kMostNoise_c).value_or(0)};
}

/// Fluid that is drained must have been there.
void check_fluid(const TomlTable& top, const Scenario& scenario) {
  double litres = scenario.thermal.fluid_l;
  for (const ScenarioEvent& event : scenario.events) {
    const auto* change = std::get_if<VehicleChange>(&event.change);
    if (change == nullptr) continue;
    if (const auto* added = std::get_if<FluidAdded>(change)) litres += added->litres;
    if (const auto* drained = std::get_if<FluidDrained>(change)) litres -= drained->litres;
    if (litres < ThermalModel::kLeastFluid_l) {
      top.mistake(top.line_of("event"), "the events drain more fluid than there is",
                  "at least " + number_text(ThermalModel::kLeastFluid_l) + " l always stays in the case");
      return;
    }
  }
}

Scenario read_scenario(const TomlTable& top) {
  Scenario scenario;
  top.allow_only(kTopKeys);
  (void)top.need_integer("format", kFormat, kFormat);
  scenario.title = top.need_text("title");
  scenario.seed = static_cast<std::uint64_t>(top.integer("seed", 0, kMostSeed).value_or(1));
  scenario.start =
      TimePoint{std::chrono::seconds{top.integer("start_s", 0, kLatestStart_s).value_or(kUsualStart_s)}};
  scenario.lasts = need_seconds(top, "lasts_s", 1);
  scenario.vin = top.text("vin").value_or(std::string{kInventedVin});
  if (!is_vin(scenario.vin)) {
    top.mistake(top.line_of("vin"), "'vin' must have 17 capital letters and digits, without I, O and Q");
  }
  const TomlValue nothing;
  const auto table_or_nothing = [&](std::string_view key) {
    return top.table(key).value_or(TomlTable{nothing, top.mistakes()});
  };
  read_bus(table_or_nothing("bus"), scenario);
  read_vehicle(table_or_nothing("vehicle"), scenario);
  scenario.thermal = read_heat(table_or_nothing("heat"));
  if (const auto table = top.table("j1939")) scenario.j1939 = read_j1939(*table);
  for (const TomlTable& one : top.tables("ecu")) scenario.units.push_back(read_unit(one, scenario));
  for (const TomlTable& one : top.tables("background")) scenario.background.push_back(read_background(one));
  for (const TomlTable& one : top.tables("event")) scenario.events.push_back(read_event(one, scenario));
  for (const TomlTable& one : top.tables("ask")) scenario.asks.push_back(read_ask(one, scenario));
  std::stable_sort(scenario.events.begin(), scenario.events.end(),
                   [](const ScenarioEvent& a, const ScenarioEvent& b) { return a.at < b.at; });
  for (const TomlTable& one : top.tables("entry")) scenario.entries.push_back(read_entry(one, scenario));
  std::stable_sort(scenario.entries.begin(), scenario.entries.end(),
                   [](const EntryPlan& a, const EntryPlan& b) { return a.at < b.at; });
  check_fluid(top, scenario);
  return scenario;
}

}  // namespace

AddressBook Scenario::addresses() const {
  const AddressBook standard;
  std::vector<UnitAddress> named;
  for (const UnitPlan& unit : units) {
    // A standard identifier has its own way of addressing: no scenario may say another.
    if (!standard.classify(unit.address.request)) named.push_back(unit.address);
  }
  return AddressBook(std::move(named));
}

Endpoint Scenario::functional_request() const {
  return {bus, extended_ids ? extended_id(kFunctional29) : standard_id(kFunctional11), std::nullopt};
}

Result<Scenario> parse_scenario(std::string_view text, const std::string& name) {
  const Result<TomlValue> root = parse_toml(text, name);
  if (!root) return tl::unexpected(root.error());
  FirstMistake mistakes{name};
  Scenario scenario = read_scenario(TomlTable{*root, mistakes});
  if (mistakes.any()) return tl::unexpected(mistakes.fault());
  return scenario;
}

}  // namespace sumplog
