#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/decoder/toml_table.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

// Readers for the tables of a scenario.toml. Each notes its mistakes in the table; what it gives back is only
// good when there are none. docs/scenario_format.md lists the keys.

/// The longest time that a scenario may name.
inline constexpr double kMostSeconds = 7 * 24 * 3600.0;  // a week; own choice

/// Seconds with fractions, to the nearest microsecond; nothing when the key is absent.
[[nodiscard]] std::optional<Duration> read_seconds(const TomlTable& table, std::string_view key,
                                                   double low = 0);
[[nodiscard]] Duration need_seconds(const TomlTable& table, std::string_view key, double low = 0);
/// "22 F1 90" → bytes; also without blanks. Nothing when the key is absent.
[[nodiscard]] std::optional<std::vector<std::uint8_t>> read_bytes(const TomlTable& table,
                                                                  std::string_view key, std::size_t least,
                                                                  std::size_t most);
/// Position of the ecu whose id the key holds.
[[nodiscard]] std::optional<std::size_t> read_ecu_name(const TomlTable& table, std::string_view key,
                                                       const std::vector<UnitPlan>& units);

[[nodiscard]] UnitPlan read_unit(const TomlTable& table, const Scenario& scenario);
/// [ecu.memory] and [[ecu.code]] of an [[ecu]].
[[nodiscard]] FaultMemoryPlan read_fault_memory(const TomlTable& ecu);
/// [[j1939.code]]; the addresses of the plan are read already.
[[nodiscard]] std::vector<J1939CodePlan> read_j1939_codes(const TomlTable& j1939, const J1939Plan& plan);
/// Position of the code that the key `code` names.
[[nodiscard]] std::optional<std::size_t> read_code_name(const TomlTable& table,
                                                        const FaultMemoryPlan& memory);
[[nodiscard]] std::optional<std::size_t> read_j1939_code_name(const TomlTable& table,
                                                              const Scenario& scenario);
[[nodiscard]] ThermalParameters read_heat(const TomlTable& table);
[[nodiscard]] J1939Plan read_j1939(const TomlTable& table);
[[nodiscard]] BackgroundPlan read_background(const TomlTable& table);
[[nodiscard]] ScenarioEvent read_event(const TomlTable& table, const Scenario& scenario);
[[nodiscard]] AskPlan read_ask(const TomlTable& table, const Scenario& scenario);
[[nodiscard]] EntryPlan read_entry(const TomlTable& table, const Scenario& scenario);

}  // namespace sumplog
