#include <algorithm>
#include <array>

#include "core/codes/code_file.h"
#include "core/vehicle/fault_memory.h"
#include "core/vehicle/parameters.h"
#include "core/vehicle/scenario_table.h"

namespace sumplog {
namespace {

constexpr std::int64_t kMaxByte = 0xFF;
constexpr std::int64_t kMaxWord = 0xFFFF;
constexpr std::size_t kMostFrameBytes = 64;  // own choice; the longest parameter of SAE J1979 is far shorter
constexpr std::size_t kMostRecordBytes = 1000;  // own choice
constexpr std::int64_t kMaxSpn = 0x7FFFF;       // SAE J1939-73, 19 bits
constexpr std::int64_t kMaxFmi = 31;            // SAE J1939-73, 5 bits
constexpr std::int64_t kMostOccurrences = 127;  // SAE J1939-73, 127 is "not available"

std::vector<FreezeFrameValue> read_frame(const TomlTable& table) {
  constexpr std::array kKeys = std::to_array<std::string_view>({"pid", "hex"});
  std::vector<FreezeFrameValue> out;
  for (const TomlTable& one : table.tables("freeze_frame")) {
    one.allow_only(kKeys);
    FreezeFrameValue value;
    value.pid = static_cast<std::uint8_t>(one.need_integer("pid", 1, kMaxByte));
    value.bytes = read_bytes(one, "hex", 1, kMostFrameBytes);
    if (!value.bytes && !is_known_parameter(value.pid))
      one.mistake(one.line_of("pid"), "the simulated vehicle does not have this parameter",
                  "give its bytes as 'hex'");
    const bool twice = std::any_of(out.begin(), out.end(),
                                   [&](const FreezeFrameValue& other) { return other.pid == value.pid; });
    if (twice || is_bitmap(value.pid) || value.pid == 2)
      one.mistake(one.line_of("pid"), "this parameter cannot stand here",
                  "each one once, and neither 02 nor a bitmap: they follow from the others");
    out.push_back(std::move(value));
  }
  return out;
}

std::vector<FaultRecord> read_records(const TomlTable& table, std::string_view key) {
  constexpr std::array kKeys = std::to_array<std::string_view>({"record", "hex"});
  constexpr std::int64_t kMostRecord = 0xFE;  // ISO 14229-1: FF asks for all
  std::vector<FaultRecord> out;
  for (const TomlTable& one : table.tables(key)) {
    one.allow_only(kKeys);
    FaultRecord record;
    record.number = static_cast<std::uint8_t>(one.need_integer("record", 0, kMostRecord));
    one.need("hex");
    record.bytes = read_bytes(one, "hex", 1, kMostRecordBytes).value_or(std::vector<std::uint8_t>{});
    const bool twice = std::any_of(out.begin(), out.end(),
                                   [&](const FaultRecord& other) { return other.number == record.number; });
    if (twice) one.mistake(one.line_of("record"), "this record stands twice");
    out.push_back(std::move(record));
  }
  return out;
}

std::uint8_t read_status(const TomlTable& table) {
  if (table.has("status")) {
    if (table.has("stored") || table.has("pending"))
      table.mistake(table.line_of("status"), "'status' says already whether the code is stored and pending");
    return static_cast<std::uint8_t>(table.integer("status", 0, kMaxByte).value_or(0));
  }
  unsigned status = 0;
  if (table.flag("stored").value_or(false)) status |= code_status::kConfirmed;
  if (table.flag("pending").value_or(false)) status |= code_status::kPending;
  return static_cast<std::uint8_t>(status);
}

CodePlan read_code(const TomlTable& table) {
  constexpr std::array kKeys = std::to_array<std::string_view>(
      {"code", "status", "stored", "pending", "permanent", "there", "freeze_frame", "snapshot", "extended"});
  table.allow_only(kKeys);
  CodePlan plan;
  const std::string name = table.need_text("code");
  const auto code = parse_j2012(name);
  if (code) plan.code = {code->code, code->failure_type.value_or(0)};
  if (!code && !table.mistakes().any())
    table.mistake(table.line_of("code"), "'" + name + "' is no fault code",
                  "write it like P0711 or P0711-1F");
  plan.status = read_status(table);
  plan.permanent = table.flag("permanent").value_or(false);
  plan.there = table.flag("there").value_or(true);
  plan.freeze_frame = read_frame(table);
  plan.snapshots = read_records(table, "snapshot");
  plan.extended = read_records(table, "extended");
  return plan;
}

void read_memory_table(const TomlTable& table, FaultMemoryPlan& plan) {
  constexpr std::array kKeys = std::to_array<std::string_view>(
      {"services", "availability", "format", "lamp", "monitors", "distance_since_clear_km",
       "time_since_clear_min", "warm_ups_since_clear", "distance_with_lamp_km", "time_with_lamp_min"});
  table.allow_only(kKeys);
  table.need("services", R"(a list of "J1979" and "ISO 14229")");
  for (const std::string& word : table.texts("services")) {
    if (word == "J1979") {
      plan.tells_j1979 = true;
    } else if (word == "ISO 14229") {
      plan.tells_iso14229 = true;
    } else {
      table.mistake(table.line_of("services"), "'services' holds '" + word + "'", "known: J1979, ISO 14229");
    }
  }
  const auto byte = [&](std::string_view key, std::uint8_t& to) {
    if (const auto value = table.integer(key, 0, kMaxByte)) to = static_cast<std::uint8_t>(*value);
  };
  const auto counter = [&](std::string_view key, double& to) {
    if (const auto value = table.number(key, 0, static_cast<double>(kMaxWord))) to = *value;
  };
  byte("availability", plan.availability);
  byte("format", plan.format);
  byte("warm_ups_since_clear", plan.warm_ups_since_clear);
  plan.lamp = table.flag("lamp");
  if (const auto bytes = read_bytes(table, "monitors", plan.monitors.size(), plan.monitors.size());
      bytes && !table.mistakes().any())
    std::copy(bytes->begin(), bytes->end(), plan.monitors.begin());
  counter("distance_since_clear_km", plan.distance_since_clear_km);
  counter("time_since_clear_min", plan.time_since_clear_min);
  counter("distance_with_lamp_km", plan.distance_with_lamp_km);
  counter("time_with_lamp_min", plan.time_with_lamp_min);
}

}  // namespace

FaultMemoryPlan read_fault_memory(const TomlTable& ecu) {
  FaultMemoryPlan plan;
  if (const auto table = ecu.table("memory")) read_memory_table(*table, plan);
  for (const TomlTable& one : ecu.tables("code")) {
    CodePlan code = read_code(one);
    const bool twice = std::any_of(plan.codes.begin(), plan.codes.end(),
                                   [&](const CodePlan& other) { return other.code == code.code; });
    if (twice) one.mistake(one.line_of("code"), text_of(code.code) + " stands twice");
    plan.codes.push_back(std::move(code));
  }
  if (!plan.codes.empty() && !ecu.has("memory"))
    ecu.mistake(ecu.line_of("code"), "the ecu has codes and no [ecu.memory]",
                "say there which services tell of them");
  return plan;
}

std::vector<J1939CodePlan> read_j1939_codes(const TomlTable& j1939, const J1939Plan& plan) {
  constexpr std::array kKeys = std::to_array<std::string_view>(
      {"from", "spn", "fmi", "count", "lamp", "active", "there", "old_conversion"});
  constexpr std::array kNodes = std::to_array<std::string_view>({"engine", "transmission"});
  constexpr std::array kLamps = std::to_array<std::string_view>({"protect", "amber", "red", "malfunction"});
  std::vector<J1939CodePlan> out;
  for (const TomlTable& one : j1939.tables("code")) {
    one.allow_only(kKeys);
    J1939CodePlan code;
    one.need("from", "known: " + list_text(kNodes));
    code.source = one.word("from", kNodes).value_or(0) == 0 ? plan.engine_address : plan.transmission_address;
    code.spn = static_cast<std::uint32_t>(one.need_integer("spn", 0, kMaxSpn));
    code.fmi = static_cast<std::uint8_t>(one.need_integer("fmi", 0, kMaxFmi));
    code.count = static_cast<std::uint8_t>(one.integer("count", 0, kMostOccurrences).value_or(1));
    code.lamp =
        one.has("lamp") ? static_cast<J1939Lamp>(one.word("lamp", kLamps).value_or(0)) : J1939Lamp::amber;
    code.active = one.flag("active").value_or(true);
    code.there = one.flag("there").value_or(true);
    code.old_conversion = one.flag("old_conversion").value_or(false);
    const bool twice = std::any_of(out.begin(), out.end(), [&](const J1939CodePlan& other) {
      return other.spn == code.spn && other.fmi == code.fmi && other.source == code.source;
    });
    if (twice) one.mistake(one.line(), "this code of this node stands twice");
    out.push_back(code);
  }
  if (!out.empty() && plan.fault_codes == Duration::zero())
    j1939.mistake(j1939.line_of("code"), "the codes are never told",
                  "give 'fault_codes_s', the period of DM1");
  return out;
}

std::optional<std::size_t> read_code_name(const TomlTable& table, const FaultMemoryPlan& memory) {
  const std::string name = table.need_text("code");
  const auto code = parse_j2012(name);
  const auto found = std::find_if(memory.codes.begin(), memory.codes.end(), [&](const CodePlan& one) {
    return code && one.code == J2012Code{code->code, code->failure_type.value_or(0)};
  });
  if (found == memory.codes.end()) {
    table.mistake(table.line_of("code"), "the ecu has no code '" + name + "'",
                  "list it as a [[ecu.code]], with 'there = false'");
    return std::nullopt;
  }
  return static_cast<std::size_t>(found - memory.codes.begin());
}

std::optional<std::size_t> read_j1939_code_name(const TomlTable& table, const Scenario& scenario) {
  const std::string name = table.need_text("code");
  const auto code = parse_code_name(name);
  if (scenario.j1939 && code && code->form == CodeRange::Form::spn) {
    const auto& codes = scenario.j1939->codes;
    const auto found = std::find_if(codes.begin(), codes.end(), [&](const J1939CodePlan& one) {
      return one.spn == code->value && one.fmi == code->detail;
    });
    if (found != codes.end()) return static_cast<std::size_t>(found - codes.begin());
  }
  table.mistake(table.line_of("code"), "there is no code '" + name + "' in [[j1939.code]]",
                "name its ecu, or write it like SPN 177 FMI 3");
  return std::nullopt;
}

}  // namespace sumplog
