#include <algorithm>
#include <array>
#include <string>

#include "core/decoder/ecu_address.h"
#include "core/vehicle/parameters.h"
#include "core/vehicle/scenario_table.h"

namespace sumplog {
namespace {

constexpr std::int64_t kMaxStandardId = 0x7FF;       // ISO 11898-1
constexpr std::int64_t kMaxExtendedId = 0x1FFFFFFF;  // ISO 11898-1
constexpr std::int64_t kMaxByte = 0xFF;
constexpr std::int64_t kMaxDid = 0xFFFF;
constexpr std::int64_t kMaxWord = 0xFFFFFFFF;
constexpr std::size_t kCalibrationIdBytes = 16;  // SAE J1979, information type 04
constexpr std::size_t kEcuNameBytes = 20;        // SAE J1979, information type 0A: acronym 4, hyphen, name 15
constexpr std::size_t kAcronymBytes = 4;
constexpr std::size_t kMostRecordBytes = 4092;  // ISO 15765-2, FF_DL of 12 bits less service and identifier
constexpr std::size_t kMostCalibrations = 16;   // own choice
constexpr double kLongestAnswer_s = 10;         // own choice: far beyond P2*, so that silence can be shown
constexpr double kUsualAnswer_s = 0.012;        // ISO 14229-2, P2 allows 0.05
constexpr double kUsualJitter_s = 0.004;

CanId read_identifier(const TomlTable& table, std::string_view key, bool extended) {
  const std::int64_t most = extended ? kMaxExtendedId : kMaxStandardId;
  return {static_cast<std::uint32_t>(table.need_integer(key, 0, most)), extended};
}

std::optional<std::uint8_t> read_byte(const TomlTable& table, std::string_view key) {
  const auto value = table.integer(key, 0, kMaxByte);
  if (!value) return std::nullopt;
  return static_cast<std::uint8_t>(*value);
}

std::vector<std::uint8_t> read_pids(const TomlTable& table) {
  std::vector<std::uint8_t> pids;
  const TomlValue* list = table.value("pids");
  if (list == nullptr) return pids;
  if (list->kind != TomlValue::Kind::array) table.mistake(list->line, "'pids' must be a list of numbers");
  for (const TomlValue& item : list->items) {
    const bool number =
        item.kind == TomlValue::Kind::integer && item.integer >= 0 && item.integer <= kMaxByte;
    if (!number || !is_known_parameter(static_cast<std::uint8_t>(item.integer))) {
      table.mistake(item.line, "'pids' holds something that the simulated vehicle does not have",
                    "parameters of service 01 that it has: see docs/scenario_format.md");
      return pids;
    }
    pids.push_back(static_cast<std::uint8_t>(item.integer));
  }
  std::sort(pids.begin(), pids.end());
  if (std::adjacent_find(pids.begin(), pids.end()) != pids.end()) {
    table.mistake(list->line, "'pids' names a parameter twice");
  }
  return pids;
}

FieldCoding read_coding(const TomlTable& table, Quantity quantity) {
  constexpr std::array kOrders = std::to_array<std::string_view>({"big", "little"});
  constexpr std::array kRoundings = std::to_array<std::string_view>({"round", "floor"});
  constexpr std::int64_t kMostFieldBytes = 4;
  constexpr double kLargest = 1e6;
  FieldCoding coding;
  coding.bytes = static_cast<int>(table.integer("bytes", 1, kMostFieldBytes).value_or(1));
  coding.byte_order = table.word("byte_order", kOrders).value_or(0) == 0 ? ByteOrder::big : ByteOrder::little;
  coding.is_signed = table.flag("signed").value_or(false);
  coding.scale = table.number("scale", -kLargest, kLargest).value_or(1);
  coding.offset = table.number("offset", -kLargest, kLargest).value_or(0);
  coding.rounding = table.word("rounding", kRoundings).value_or(0) == 0 ? Rounding::round : Rounding::floor;
  if (coding.scale == 0) table.mistake(table.line_of("scale"), "'scale' is 0");
  if (const auto pattern = table.integer("no_value", 0, kMaxWord)) {
    coding.no_value = static_cast<std::uint32_t>(*pattern);
    if (quantity != Quantity::fluid_temperature) {
      table.mistake(table.line_of("no_value"), "only the fluid temperature has a sensor that can fail");
    }
  }
  if (const TomlValue* codes = table.value("codes")) {
    const bool right =
        quantity == Quantity::selector_position && codes->kind == TomlValue::Kind::array &&
        codes->items.size() == selector_names().size() &&
        std::all_of(codes->items.begin(), codes->items.end(), [](const TomlValue& one) {
          return one.kind == TomlValue::Kind::integer && one.integer >= 0 && one.integer <= kMaxWord;
        });
    if (!right) {
      table.mistake(codes->line,
                    "'codes' must be four numbers, for the selector_position " + list_text(selector_names()));
      return coding;
    }
    for (const TomlValue& one : codes->items) coding.codes.push_back(static_cast<std::uint32_t>(one.integer));
  }
  return coding;
}

DidPlan read_did(const TomlTable& table) {
  constexpr std::array kConstantKeys = std::to_array<std::string_view>({"did", "hex", "text", "refuse"});
  constexpr std::array kQuantityKeys =
      std::to_array<std::string_view>({"did", "signal", "bytes", "byte_order", "signed", "scale", "offset",
                                       "rounding", "no_value", "codes", "before", "after"});
  DidPlan plan;
  plan.did = static_cast<std::uint16_t>(table.need_integer("did", 0, kMaxDid));
  const int kinds = (table.has("signal") ? 1 : 0) + (table.has("hex") ? 1 : 0) + (table.has("text") ? 1 : 0) +
                    (table.has("refuse") ? 1 : 0);
  if (kinds != 1) {
    table.mistake(table.line(), "a did has one of 'signal', 'hex', 'text' and 'refuse'");
    return plan;
  }
  if (!table.has("signal")) {
    table.allow_only(kConstantKeys);
    ConstantRecord constant;
    if (const auto text = table.text("text")) constant.bytes.assign(text->begin(), text->end());
    if (const auto bytes = read_bytes(table, "hex", 1, kMostRecordBytes)) constant.bytes = *bytes;
    if (constant.bytes.size() > kMostRecordBytes) table.mistake(table.line_of("text"), "'text' is too long");
    plan.record = constant;
    if (const auto code = table.integer("refuse", 1, kMaxByte)) {
      plan.record = RefusedRecord{static_cast<std::uint8_t>(*code)};
    }
    return plan;
  }
  table.allow_only(kQuantityKeys);
  QuantityRecord record;
  record.quantity = static_cast<Quantity>(table.word("signal", quantity_names()).value_or(0));
  record.coding = read_coding(table, record.quantity);
  record.before = read_bytes(table, "before", 1, kMostRecordBytes).value_or(std::vector<std::uint8_t>{});
  record.after = read_bytes(table, "after", 1, kMostRecordBytes).value_or(std::vector<std::uint8_t>{});
  plan.record = record;
  return plan;
}

CalibrationPlan read_calibration(const TomlTable& table) {
  constexpr std::array kKeys = std::to_array<std::string_view>({"id", "cvn"});
  table.allow_only(kKeys);
  CalibrationPlan plan;
  plan.id = table.need_text("id");
  if (plan.id.size() > kCalibrationIdBytes)
    table.mistake(table.line_of("id"), "'id' has more than 16 characters");
  plan.cvn = static_cast<std::uint32_t>(table.need_integer("cvn", 0, kMaxWord));
  return plan;
}

void check_address(const TomlTable& table, const UnitPlan& unit, const Scenario& scenario) {
  if (table.mistakes().any()) return;
  const std::string wrong = address_mistake(unit.address);
  if (!wrong.empty()) table.mistake(table.line_of("request"), wrong);
  for (const UnitPlan& other : scenario.units) {
    if (other.id == unit.id) table.mistake(table.line_of("id"), "the ecu id '" + unit.id + "' is used twice");
    const bool same = (other.address.request == unit.address.request &&
                       other.address.request_address == unit.address.request_address) ||
                      (other.address.response == unit.address.response &&
                       other.address.response_address == unit.address.response_address);
    if (same) {
      table.mistake(table.line_of("request"),
                    "ecu '" + unit.id + "' has the same identifiers as '" + other.id + "'");
    }
  }
}

}  // namespace

UnitPlan read_unit(const TomlTable& table, const Scenario& scenario) {
  constexpr std::array kKeys = std::to_array<std::string_view>(
      {"id", "request", "response", "addressing", "request_address", "response_address", "pids", "tells_vin",
       "name", "calibration", "did", "memory", "code", "answer_after_s", "answer_jitter_s"});
  constexpr std::array kModes = std::to_array<std::string_view>({"normal", "extended", "mixed"});
  table.allow_only(kKeys);
  UnitPlan unit;
  unit.id = table.need_text("id");
  unit.address.request = read_identifier(table, "request", scenario.extended_ids);
  unit.address.response = read_identifier(table, "response", scenario.extended_ids);
  unit.address.mode = static_cast<AddressingMode>(table.word("addressing", kModes).value_or(0));
  unit.address.request_address = read_byte(table, "request_address");
  unit.address.response_address = read_byte(table, "response_address");
  unit.pids = read_pids(table);
  unit.tells_vin = table.flag("tells_vin").value_or(false);
  unit.name = table.text("name").value_or("");
  const std::size_t acronym = std::min(unit.name.find('-'), unit.name.size());
  if (acronym > kAcronymBytes || unit.name.size() > acronym + kEcuNameBytes - kAcronymBytes) {
    table.mistake(table.line_of("name"),
                  "'name' must be an acronym of up to 4 characters, '-', and up to 15 more");
  }
  for (const TomlTable& one : table.tables("calibration")) unit.calibrations.push_back(read_calibration(one));
  if (unit.calibrations.size() > kMostCalibrations) table.mistake(table.line(), "more than 16 calibrations");
  for (const TomlTable& one : table.tables("did")) {
    const DidPlan did = read_did(one);
    const bool twice = std::any_of(unit.dids.begin(), unit.dids.end(),
                                   [&did](const DidPlan& other) { return other.did == did.did; });
    if (twice) one.mistake(one.line_of("did"), "this did stands twice");
    unit.dids.push_back(did);
  }
  unit.memory = read_fault_memory(table);
  constexpr double kMicro = 1e6;
  unit.answer_after = Duration{static_cast<std::int64_t>(
      table.number("answer_after_s", 0, kLongestAnswer_s).value_or(kUsualAnswer_s) * kMicro)};
  unit.answer_jitter = Duration{static_cast<std::int64_t>(
      table.number("answer_jitter_s", 0, kLongestAnswer_s).value_or(kUsualJitter_s) * kMicro)};
  check_address(table, unit, scenario);
  return unit;
}

}  // namespace sumplog
