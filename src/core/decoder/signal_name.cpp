#include "core/decoder/signal_name.h"

#include <algorithm>
#include <array>
#include <numeric>
#include <vector>

namespace sumplog {
namespace {

constexpr std::array kUnits = std::to_array<std::string_view>({
    "degC",
    "degF",
    "rpm",
    "km/h",
    "%",
    "V",
    "kPa",
    "Pa",
    "km",
    "L",
    "L/h",
    "g/s",
    "Nm",
    "s",
    "min",
    "ratio",
    "none",
});

constexpr std::string_view kJ1979 = "SAE J1979";
constexpr std::string_view kJ1939 = "SAE J1939-71";
constexpr std::string_view kBoth = "SAE J1979, SAE J1939-71";
constexpr std::string_view kOwn = "no standard name";

// Names are the standards' own words in snake case. J1979 has no transmission fluid temperature; J1939 calls
// SPN 177 "Transmission Oil Temperature".
constexpr std::array kNames = std::to_array<SignalName>({
    {"fluid_temperature", "degC", kJ1939},
    {"engine_speed", "rpm", kBoth},
    {"coolant_temperature", "degC", kBoth},
    {"vehicle_speed", "km/h", kBoth},
    {"selector_position", "none", kOwn},
    {"actual_gear", "none", kBoth},
    {"selected_gear", "none", kJ1939},
    {"actual_gear_ratio", "ratio", kBoth},
    {"module_voltage", "V", kJ1979},
    {"ambient_temperature", "degC", kBoth},
    {"intake_air_temperature", "degC", kBoth},
    {"engine_oil_temperature", "degC", kBoth},
    {"engine_load", "%", kJ1979},
    {"absolute_load", "%", kJ1979},
    {"odometer", "km", kJ1979},
    {"engine_run_time", "s", kJ1979},
    {"manifold_absolute_pressure", "kPa", kJ1979},
    {"barometric_pressure", "kPa", kBoth},
    {"evaporative_vapor_pressure", "Pa", kJ1979},
    {"mass_air_flow", "g/s", kJ1979},
    {"fuel_level", "%", kBoth},
    {"fuel_rate", "L/h", kBoth},
    {"throttle_position", "%", kJ1979},
    {"throttle_actuator_commanded", "%", kJ1979},
    {"accelerator_pedal_position_d", "%", kJ1979},
    {"accelerator_pedal_position_e", "%", kJ1979},
    {"engine_torque_demanded", "%", kJ1979},
    {"engine_torque_actual", "%", kBoth},
    {"engine_reference_torque", "Nm", kBoth},
    {"catalyst_temperature_bank_1_sensor_1", "degC", kJ1979},
    {"catalyst_temperature_bank_2_sensor_1", "degC", kJ1979},
    {"catalyst_temperature_bank_1_sensor_2", "degC", kJ1979},
    {"catalyst_temperature_bank_2_sensor_2", "degC", kJ1979},
    {"distance_with_mil", "km", kJ1979},
    {"distance_since_codes_cleared", "km", kJ1979},
    {"warm_ups_since_codes_cleared", "none", kJ1979},
    {"time_with_mil", "min", kJ1979},
    {"time_since_codes_cleared", "min", kJ1979},
});

/// Slips between two words: letters to insert, delete or replace, and neighbours that changed places.
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before_last(b.size() + 1);
  std::vector<std::size_t> last(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(last.begin(), last.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t k = 1; k <= b.size(); ++k) {
      const std::size_t replaced = last[k - 1] + (a[i - 1] == b[k - 1] ? 0 : 1);
      row[k] = std::min({replaced, row[k - 1] + 1, last[k] + 1});
      const bool swapped = i > 1 && k > 1 && a[i - 1] == b[k - 2] && a[i - 2] == b[k - 1];
      if (swapped) row[k] = std::min(row[k], before_last[k - 2] + 1);
    }
    std::swap(before_last, last);
    std::swap(last, row);
  }
  return last.back();
}

}  // namespace

std::span<const SignalName> signal_names() {
  return kNames;
}
std::span<const std::string_view> unit_names() {
  return kUnits;
}

const SignalName* find_signal_name(std::string_view name) {
  const auto* found =
      std::find_if(kNames.begin(), kNames.end(), [&](const SignalName& n) { return n.name == name; });
  return found == kNames.end() ? nullptr : found;
}

bool is_snake_case(std::string_view text) {
  if (text.empty() || text.front() < 'a' || text.front() > 'z' || text.back() == '_') return false;
  char before = ' ';
  for (const char c : text) {
    const bool allowed = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (c == '_' && before != '_');
    if (!allowed) return false;
    before = c;
  }
  return true;
}

std::string_view nearest(std::string_view word, std::span<const std::string_view> list) {
  constexpr std::size_t kLongestWord = 64;  // a longer one is no slip, and the distance costs its square
  constexpr std::size_t kLettersPerSlip = 3;
  if (word.size() > kLongestWord) return {};
  std::string_view best;
  std::size_t fewest = std::max<std::size_t>(1, word.size() / kLettersPerSlip) + 1;
  for (const std::string_view candidate : list) {
    const std::size_t slips = distance(word, candidate);
    if (slips < fewest) {
      fewest = slips;
      best = candidate;
    }
  }
  return best;
}

}  // namespace sumplog
