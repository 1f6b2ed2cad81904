#include <algorithm>
#include <array>

#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/stages.h"
#include "core/vehicle/scenario_table.h"

namespace sumplog {
namespace {

constexpr std::array kNames = std::to_array<std::string_view>(
    {kIntake,        kStageBegun,    kStageEnded, kStageSkipped,    kFluidOut,      kFluidIn,
     kFluidAdded,    kPlugOut,       kPlugIn,     kLevelSeen,       kPositionHeld,  kSelectorCycleDone,
     kReadingByHand, kConfirmed,     kCoolDown,   kConditionTicked, kReadOnceEntry, kScanEntry,
     kPartUsed,      kNote,          kPhoto,      kOpenItem,        kOpenItemDone,  kOpenItemSignedOver,
     kVerdictShown,  kExchangeWanted});

std::string json_of(const TomlValue& value, const TomlTable& table);

std::string json_of_list(const TomlValue& value, const TomlTable& table) {
  return json_array(value.items, [&](const TomlValue& item) { return json_of(item, table); });
}

std::string json_of_table(const TomlValue& value, const TomlTable& table) {
  JsonLine line;
  for (const TomlMember& member : value.members) line.raw(member.key, json_of(member.value, table));
  return line.take();
}

std::string json_of(const TomlValue& value, const TomlTable& table) {
  switch (value.kind) {
    case TomlValue::Kind::text: return json_string(value.text);
    case TomlValue::Kind::integer: return std::to_string(value.integer);
    case TomlValue::Kind::number: return number_text(value.number);
    case TomlValue::Kind::flag: return value.flag ? "true" : "false";
    case TomlValue::Kind::array: return json_of_list(value, table);
    case TomlValue::Kind::table: return json_of_table(value, table);
    case TomlValue::Kind::date: break;
  }
  table.mistake(value.line, "a date has no place in an entry", "write it as text");
  return "null";
}

}  // namespace

EntryPlan read_entry(const TomlTable& table, const Scenario& scenario) {
  constexpr std::array kKeys = std::to_array<std::string_view>({"at_s", "name", "fields"});
  table.allow_only(kKeys);
  EntryPlan entry;
  entry.at = need_seconds(table, "at_s");
  if (entry.at > scenario.lasts)
    table.mistake(table.line_of("at_s"), "the entry comes after the end of the scenario");
  table.need("name", "known: " + list_text(kNames));
  if (const auto name = table.word("name", kNames)) entry.name = kNames.at(*name);
  entry.fields = "{}";
  const TomlValue* fields = table.value("fields");
  if (fields != nullptr && fields->kind != TomlValue::Kind::table)
    table.mistake(fields->line, "'fields' must be a table", "for example { stage = \"refill\" }");
  else if (fields != nullptr)
    entry.fields = json_of_table(*fields, table);
  if (!entry.name.starts_with("stage_")) return entry;
  const TomlValue* stage = fields == nullptr ? nullptr : fields->find("stage");
  if (stage == nullptr || !stage_named(stage->text))
    table.mistake(stage == nullptr ? table.line() : stage->line, "an entry about a stage must name one",
                  "known: " + list_text(kStages));
  return entry;
}

}  // namespace sumplog
