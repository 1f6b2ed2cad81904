#include <algorithm>
#include <array>

#include "core/vehicle/scenario_table.h"

namespace sumplog {
namespace {

constexpr double kLowest_c = -60;
constexpr double kHighest_c = 200;
constexpr double kMost_l = 50;
constexpr double kMost_kmh = 250;
constexpr double kMost_rpm = 10000;
constexpr double kMost_v = 36;
constexpr std::int64_t kMaxByte = 0xFF;
constexpr std::int64_t kMostPending = 100;
constexpr double kLongestPending_s = 5;  // ISO 14229-2, P2*
constexpr double kUsualPending_s = 2;
constexpr std::int64_t kMostConsecutive = 10000;

enum class What : std::uint8_t {
  engine_on,
  engine_off,
  selector,
  vehicle_speed,
  engine_speed,
  idle,
  fan_on,
  fan_off,
  fluid_added,
  fluid_drained,
  sensor_works,
  sensor_dead,
  sensor_stuck,
  sensor_substitute,
  ecu_silent,
  ecu_speaks,
  answers_pending,
  loses_consecutive_frame,
  ecu_resets,
  link_down,
  link_gone,
  link_up,
  clock_step,
  supply_voltage,
  supply_usual,
  code_sets,
  code_changes,
  code_goes,
  codes_cleared,
};
constexpr std::array kWords =
    std::to_array<std::string_view>({"engine_on",     "engine_off",        "selector",
                                     "vehicle_speed", "engine_speed",      "idle",
                                     "fan_on",        "fan_off",           "fluid_added",
                                     "fluid_drained", "sensor_works",      "sensor_dead",
                                     "sensor_stuck",  "sensor_substitute", "ecu_silent",
                                     "ecu_speaks",    "answers_pending",   "loses_consecutive_frame",
                                     "ecu_resets",    "link_down",         "link_gone",
                                     "link_up",       "clock_step",        "supply_voltage",
                                     "supply_usual",  "code_sets",         "code_changes",
                                     "code_goes",     "codes_cleared"});
static_assert(kWords.size() == static_cast<std::size_t>(What::codes_cleared) + 1);

/// Reads the keys that belong to one kind of event, and refuses the others.
class EventReader {
 public:
  EventReader(const TomlTable& table, const Scenario& scenario) : table_(table), scenario_(scenario) {}

  [[nodiscard]] decltype(ScenarioEvent::change) read(What what) {
    switch (what) {
      case What::engine_on: return vehicle(EngineChange{true});
      case What::engine_off: return vehicle(EngineChange{false});
      case What::selector: {
        SelectorChange change;
        table_.need(key("position"));
        change.position =
            static_cast<SelectorPosition>(table_.word("position", selector_names()).value_or(0));
        return vehicle(change);
      }
      case What::vehicle_speed:
        return vehicle(VehicleSpeedChange{table_.need_number(key("km_h"), 0, kMost_kmh)});
      case What::engine_speed:
        return vehicle(EngineSpeedChange{table_.need_number(key("rpm"), 1, kMost_rpm)});
      case What::idle: return vehicle(EngineSpeedChange{});
      case What::fan_on: return vehicle(FanChange{true});
      case What::fan_off: return vehicle(FanChange{false});
      case What::fluid_added: {
        FluidAdded change;
        change.litres = litres();
        change.temperature = {table_.need_number(key("fluid_c"), kLowest_c, kHighest_c)};
        return vehicle(change);
      }
      case What::fluid_drained: return vehicle(FluidDrained{litres()});
      case What::sensor_works: return vehicle(SensorChange{SensorState::works, {}});
      case What::sensor_dead: return vehicle(SensorChange{SensorState::dead, {}});
      case What::sensor_stuck: return vehicle(SensorChange{SensorState::stuck, {}});
      case What::sensor_substitute:
        return vehicle(SensorChange{SensorState::substitute,
                                    {table_.need_number(key("shown_c"), kLowest_c, kHighest_c)}});
      case What::ecu_silent: return unit(SilenceChange{true});
      case What::ecu_speaks: return unit(SilenceChange{false});
      case What::answers_pending: {
        PendingAnswers change;
        change.service = service();
        change.times = static_cast<int>(table_.need_integer(key("times"), 1, kMostPending));
        constexpr double kMicro = 1e6;
        change.every = Duration{static_cast<std::int64_t>(
            table_.number(key("every_s"), 0, kLongestPending_s).value_or(kUsualPending_s) * kMicro)};
        return unit(change);
      }
      case What::loses_consecutive_frame: {
        LostConsecutive change;
        change.service = service();
        change.index = static_cast<int>(table_.need_integer(key("index"), 1, kMostConsecutive));
        return unit(change);
      }
      case What::ecu_resets: return unit(ResetChange{need_seconds(table_, key("takes_s"))});
      case What::link_down: return TesterChange{LinkChange{LinkState::down}};
      case What::link_gone: return TesterChange{LinkChange{LinkState::gone}};
      case What::link_up: return TesterChange{LinkChange{LinkState::up}};
      case What::clock_step:
        return TesterChange{ClockChange{need_seconds(table_, key("step_s"), -kMostSeconds)}};
      case What::supply_voltage: return vehicle(SupplyChange{table_.need_number(key("volts"), 0, kMost_v)});
      case What::supply_usual: return vehicle(SupplyChange{});
      case What::code_sets:
        if (of_j1939()) return j1939_code(true);
        return code<CodeSets>();
      case What::code_goes:
        if (of_j1939()) return j1939_code(false);
        return code<CodeGoes>();
      case What::code_changes: {
        CodeChanges change;
        change.status = static_cast<std::uint8_t>(table_.need_integer(key("status"), 0, kMaxByte));
        change.permanent = table_.flag(key("permanent"));
        change.code = code_position();
        return unit(change);
      }
      case What::codes_cleared:
        if (!table_.has(key("ecu"))) return CodesCleared{};
        return unit(CodesCleared{});
    }
    return TesterChange{};  // not reached: every What is above
  }
  [[nodiscard]] const std::vector<std::string_view>& keys() const { return keys_; }

 private:
  std::string_view key(std::string_view name) {
    keys_.push_back(name);
    return name;
  }
  double litres() { return table_.need_number(key("litres"), 0.01, kMost_l); }
  std::uint8_t service() {
    return static_cast<std::uint8_t>(table_.need_integer(key("service"), 0, kMaxByte));
  }
  static decltype(ScenarioEvent::change) vehicle(VehicleChange change) { return change; }
  decltype(ScenarioEvent::change) unit(decltype(UnitChange::change) change) {
    table_.need(key("ecu"));
    return UnitChange{read_ecu_name(table_, "ecu", scenario_.units).value_or(0), change};
  }

  /// A code of SAE J1939 is told from another by its name, and belongs to no ecu.
  [[nodiscard]] bool of_j1939() const { return !table_.has("ecu"); }
  decltype(ScenarioEvent::change) j1939_code(bool active) {
    key("code");
    return J1939CodeChange{read_j1939_code_name(table_, scenario_).value_or(0), active};
  }
  std::size_t code_position() {
    key("code");
    const auto named = read_ecu_name(table_, key("ecu"), scenario_.units);
    if (!named) return 0;
    return read_code_name(table_, scenario_.units.at(*named).memory).value_or(0);
  }
  template <class Change>
  decltype(ScenarioEvent::change) code() {
    Change change;
    change.code = code_position();
    return unit(change);
  }

  const TomlTable& table_;
  const Scenario& scenario_;
  std::vector<std::string_view> keys_{"at_s", "what"};
};

}  // namespace

ScenarioEvent read_event(const TomlTable& table, const Scenario& scenario) {
  ScenarioEvent event;
  event.at = need_seconds(table, "at_s");
  table.need("what", "known: " + list_text(kWords));
  const auto what = table.word("what", kWords);
  if (!what) return event;
  EventReader reader(table, scenario);
  event.change = reader.read(static_cast<What>(*what));
  table.allow_only(reader.keys());
  if (event.at > scenario.lasts) {
    table.mistake(table.line_of("at_s"), "the event comes after the end of the scenario");
  }
  return event;
}

}  // namespace sumplog
