#include "core/vehicle/scenario_table.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace sumplog {
namespace {

constexpr double kMicrosecondsPerSecond = 1e6;
constexpr unsigned kNibble = 4;
constexpr double kAbsoluteZero_c = -273.15;
constexpr double kMostConductance = 1e4;  // W/K; own choice, as the ones below: a slip of the pen is found
constexpr double kMostPower_w = 1e6;
constexpr double kMostCapacity = 1e9;  // J/K
constexpr double kMostTemperature_c = 300;
constexpr std::int64_t kMaxStandardId = 0x7FF;       // ISO 11898-1
constexpr std::int64_t kMaxExtendedId = 0x1FFFFFFF;  // ISO 11898-1
constexpr std::int64_t kMostAddress = 253;           // SAE J1939-21, 254 is null and 255 everybody
constexpr std::int64_t kMostPgn = 0x3FFFF;           // SAE J1939-21, 18 bits
constexpr std::size_t kMostAsked = 7;                // bytes of a single frame, ISO 15765-2

std::optional<unsigned> digit(char c) {
  constexpr int kTen = 10;
  if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
  if (c >= 'A' && c <= 'F') return static_cast<unsigned>(c - 'A' + kTen);
  if (c >= 'a' && c <= 'f') return static_cast<unsigned>(c - 'a' + kTen);
  return std::nullopt;
}

}  // namespace

std::optional<Duration> read_seconds(const TomlTable& table, std::string_view key, double low) {
  const auto seconds = table.number(key, low, kMostSeconds);
  if (!seconds) return std::nullopt;
  return Duration{static_cast<std::int64_t>(std::floor(*seconds * kMicrosecondsPerSecond + 0.5))};
}

Duration need_seconds(const TomlTable& table, std::string_view key, double low) {
  table.need(key);
  return read_seconds(table, key, low).value_or(Duration::zero());
}

std::optional<std::vector<std::uint8_t>> read_bytes(const TomlTable& table, std::string_view key,
                                                    std::size_t least, std::size_t most) {
  const auto text = table.text(key);
  if (!text) return std::nullopt;
  std::vector<unsigned> digits;
  bool wrong = false;
  for (const char c : *text) {
    if (c == ' ') continue;
    const auto value = digit(c);
    wrong = wrong || !value;
    digits.push_back(value.value_or(0));
  }
  std::vector<std::uint8_t> bytes;
  for (std::size_t i = 0; i + 1 < digits.size(); i += 2) {
    bytes.push_back(static_cast<std::uint8_t>(digits[i] << kNibble | digits[i + 1]));
  }
  if (wrong || digits.size() % 2 != 0) {
    table.mistake(table.line_of(key), "'" + std::string{key} + "' must be pairs of hex digits: \"22 F1 90\"");
  } else if (bytes.size() < least || bytes.size() > most) {
    table.mistake(table.line_of(key), "'" + std::string{key} + "' has " + std::to_string(bytes.size()) +
                                          " bytes, outside " + std::to_string(least) + "…" +
                                          std::to_string(most));
  }
  return bytes;
}

std::optional<std::size_t> read_ecu_name(const TomlTable& table, std::string_view key,
                                         const std::vector<UnitPlan>& units) {
  std::vector<std::string_view> names;
  names.reserve(units.size());
  for (const UnitPlan& unit : units) names.push_back(unit.id);
  return table.word(key, names);
}

ThermalParameters read_heat(const TomlTable& table) {
  ThermalParameters p;
  struct Figure {
    std::string_view key;
    double* value;
    double low;
    double high;
  };
  const std::array figures = std::to_array<Figure>({
      {"fluid_l", &p.fluid_l, ThermalModel::kLeastFluid_l, 100},
      {"fluid_j_per_k_per_l", &p.fluid_j_per_k_per_l, 1, kMostCapacity},
      {"case_j_per_k", &p.case_j_per_k, 1, kMostCapacity},
      {"engine_j_per_k", &p.engine_j_per_k, 1, kMostCapacity},
      {"fluid_case_w_per_k", &p.fluid_case_w_per_k, 0, kMostConductance},
      {"fluid_case_still_w_per_k", &p.fluid_case_still_w_per_k, 0, kMostConductance},
      {"case_air_w_per_k", &p.case_air_w_per_k, 0, kMostConductance},
      {"engine_air_w_per_k", &p.engine_air_w_per_k, 0, kMostConductance},
      {"engine_case_w_per_k", &p.engine_case_w_per_k, 0, kMostConductance},
      {"warmer_w_per_k", &p.warmer_w_per_k, 0, kMostConductance},
      {"cooler_w_per_k", &p.cooler_w_per_k, 0, kMostConductance},
      {"bypass_opens_c", &p.bypass_opens_c, kAbsoluteZero_c, kMostTemperature_c},
      {"bypass_full_c", &p.bypass_full_c, kAbsoluteZero_c, kMostTemperature_c},
      {"engine_thermostat_opens_c", &p.engine_thermostat_opens_c, kAbsoluteZero_c, kMostTemperature_c},
      {"engine_thermostat_full_c", &p.engine_thermostat_full_c, kAbsoluteZero_c, kMostTemperature_c},
      {"radiator_w_per_k", &p.radiator_w_per_k, 0, kMostConductance},
      {"engine_heat_w", &p.engine_heat_w, 0, kMostPower_w},
      {"fluid_heat_park_w", &p.fluid_heat_park_w, 0, kMostPower_w},
      {"fluid_heat_drive_w", &p.fluid_heat_drive_w, 0, kMostPower_w},
      {"idle_rpm", &p.idle_rpm, 1, 10000},
      {"fan_factor", &p.fan_factor, 1, 100},
      {"air_stream_per_kmh", &p.air_stream_per_kmh, 0, 10},
      {"sensor_lag_s", &p.sensor_lag_s, 0, 600},
  });
  std::vector<std::string_view> keys;
  keys.reserve(figures.size());
  for (const Figure& figure : figures) keys.push_back(figure.key);
  table.allow_only(keys);
  for (const Figure& figure : figures) {
    if (const auto value = table.number(figure.key, figure.low, figure.high)) *figure.value = *value;
  }
  if (p.bypass_full_c <= p.bypass_opens_c) {
    table.mistake(table.line_of("bypass_full_c"), "the bypass is fully open at or below where it opens");
  }
  if (p.engine_thermostat_full_c <= p.engine_thermostat_opens_c) {
    table.mistake(table.line_of("engine_thermostat_full_c"),
                  "the engine's thermostat is fully open at or below where it opens");
  }
  return p;
}

J1939Plan read_j1939(const TomlTable& table) {
  constexpr std::array kKeys = std::to_array<std::string_view>(
      {"engine_address", "transmission_address", "engine_speed_s", "gears_s", "engine_temperature_s",
       "vehicle_speed_s", "transmission_fluids_s", "vehicle_identification_s", "fault_codes_s", "code"});
  constexpr double kShortest_s = 0.01;  // SAE J1939-71, the fastest repetition
  table.allow_only(kKeys);
  J1939Plan plan;
  const auto address = [&](std::string_view key, std::uint8_t& to) {
    if (const auto value = table.integer(key, 0, kMostAddress)) to = static_cast<std::uint8_t>(*value);
  };
  const auto period = [&](std::string_view key, Duration& to) {
    to = read_seconds(table, key, kShortest_s).value_or(Duration::zero());
  };
  address("engine_address", plan.engine_address);
  address("transmission_address", plan.transmission_address);
  period("engine_speed_s", plan.engine_speed);
  period("gears_s", plan.gears);
  period("engine_temperature_s", plan.engine_temperature);
  period("vehicle_speed_s", plan.vehicle_speed);
  period("transmission_fluids_s", plan.transmission_fluids);
  period("vehicle_identification_s", plan.vehicle_identification);
  period("fault_codes_s", plan.fault_codes);
  plan.codes = read_j1939_codes(table, plan);
  if (plan.engine_address == plan.transmission_address) {
    table.mistake(table.line(), "engine and transmission have the same address");
  }
  return plan;
}

BackgroundPlan read_background(const TomlTable& table) {
  constexpr std::array kKeys = std::to_array<std::string_view>({"id", "extended", "period_s", "length"});
  constexpr double kShortest_s = 0.0001;
  constexpr std::int64_t kClassicBytes = 8;
  table.allow_only(kKeys);
  BackgroundPlan plan;
  plan.id.extended = table.flag("extended").value_or(false);
  plan.id.value = static_cast<std::uint32_t>(
      table.need_integer("id", 0, plan.id.extended ? kMaxExtendedId : kMaxStandardId));
  plan.period = need_seconds(table, "period_s", kShortest_s);
  plan.length = static_cast<std::uint8_t>(table.integer("length", 0, kClassicBytes).value_or(kClassicBytes));
  return plan;
}

AskPlan read_ask(const TomlTable& table, const Scenario& scenario) {
  constexpr std::array kKeys =
      std::to_array<std::string_view>({"ecu", "payload", "group", "at_s", "every_s", "until_s"});
  constexpr double kShortest_s = 0.001;
  table.allow_only(kKeys);
  AskPlan ask;
  ask.at = need_seconds(table, "at_s");
  ask.every = read_seconds(table, "every_s", kShortest_s).value_or(Duration::zero());
  ask.until = read_seconds(table, "until_s");
  if (table.has("ecu")) ask.unit = read_ecu_name(table, "ecu", scenario.units);
  if (const auto group = table.integer("group", 0, kMostPgn)) ask.group = static_cast<std::uint32_t>(*group);
  if (const auto payload = read_bytes(table, "payload", 1, kMostAsked)) ask.payload = *payload;
  if (table.has("group") == table.has("payload")) {
    table.mistake(table.line(), "an ask has either a 'payload' or a 'group'");
  }
  if (ask.group && ask.unit) {
    table.mistake(table.line_of("ecu"), "a request for a group goes to all; leave out 'ecu'");
  }
  if (ask.until && ask.every == Duration::zero()) {
    table.mistake(table.line_of("until_s"), "'until_s' needs 'every_s'");
  }
  return ask;
}

}  // namespace sumplog
