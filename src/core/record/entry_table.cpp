#include "core/record/entry_table.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>

#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/stages.h"

namespace sumplog {
namespace {

using Json = nlohmann::ordered_json;

// Limits of numbers, own choice: what lies outside is a slip of the hand (a comma, a unit), never a gearbox.
constexpr double kMostLitres = 200;
constexpr double kMostKilograms = 200;
constexpr double kColdest_c = -60;
constexpr double kHottest_c = 250;
constexpr double kMostKilometres = 10e6;
constexpr double kLongestHold_s = 3600;
constexpr double kMostParts = 1000;
constexpr double kMostMillilitres = 10'000;
constexpr double kLongestAgo_s = 600;  // core/job/entry_fields.cpp
constexpr double kThinnest_kg_per_m3 = 500;
constexpr double kThickest_kg_per_m3 = 1500;
constexpr double kMostBytes = 1e9;

FieldRule text(std::string_view name) {
  return {name, FieldKind::text, {}, 0, 0, false};
}
FieldRule number(std::string_view name, double low, double high) {
  return {name, FieldKind::number, {}, low, high, false};
}
FieldRule word(std::string_view name, std::vector<std::string_view> words) {
  return {name, FieldKind::word, std::move(words), 0, 0, false};
}
FieldRule needed(FieldRule rule) {
  rule.needed = true;
  return rule;
}

FieldRule stage() {
  return needed(word("stage", {kStages.begin(), kStages.end()}));
}
std::vector<FieldRule> volume() {
  return {number("litres", 0, kMostLitres),
          number("mass_kg", 0, kMostKilograms),
          number("density_kg_per_m3", kThinnest_kg_per_m3, kThickest_kg_per_m3),
          number("temp_c", kColdest_c, kHottest_c),
          word("part", {"sample", "exchange", "drain", "pan", "refill", "top up", "level check"}),
          text("container"),
          text("fluid"),
          text("batch"),
          text("replaces")};
}

std::vector<EntryRule> make_table() {
  return {
      {kIntake,
       {text("plate"), text("vin"), number("odometer_km", 0, kMostKilometres), text("customer"),
        text("complaint"), text("technician"),
        word("transmission", {"converter", "cvt", "wet dct", "dry dct", "hybrid"}), text("unit"),
        text("fluid"), text("batch")},
       {}},
      {kStageBegun, {stage()}, {}},
      {kStageEnded, {stage()}, {}},
      {kStageSkipped, {stage(), text("why")}, {}},
      {kFluidOut, volume(), {"litres", "mass_kg"}},
      {kFluidIn, volume(), {"litres", "mass_kg"}},
      {kExchangeWanted, {needed(number("share", 0, 1))}, {}},
      {kPlugOut, {}, {}},
      {kPlugIn, {}, {}},
      {kLevelSeen,
       {needed(word("flow", {"dry", "drip", "thread", "stream"})), number("ml_in_10_s", 0, kMostMillilitres)},
       {}},
      {kPositionHeld, {needed(text("position")), number("s", 0, kLongestHold_s)}, {}},
      {kSelectorCycleDone, {}, {}},
      {kConditionTicked, {needed(text("condition")), {"holds", FieldKind::flag, {}, 0, 0, false}}, {}},
      {kReadingByHand, {needed(number("value_c", kColdest_c, kHottest_c)), text("place")}, {}},
      {kConfirmed, {needed(word("what", {"window", "decoder", "thermometer", "sweep"})), text("origin")}, {}},
      {kFluidAdded, {}, {}},
      {kCoolDown, {word("air", {"still", "fan"}), number("ambient_c", kColdest_c, kHottest_c)}, {}},
      {kReadOnceEntry, {}, {}},
      {kScanEntry, {word("scan", {kScanBefore, kScanAfter, kScanDuring})}, {}},
      {kPartUsed, {needed(text("part")), text("number"), number("count", 0, kMostParts)}, {}},
      {kNote, {needed(text("text"))}, {}},
      {kPhoto,
       {needed(text("file")), needed(text("sha256")), number("bytes", 0, kMostBytes), text("type"),
        text("of")},
       {}},
      {kOpenItem, {needed(text("item")), text("text")}, {}},
      {kOpenItemDone, {needed(text("item")), number("litres", 0, kMostLitres), text("text")}, {}},
      {kOpenItemSignedOver, {needed(text("item")), text("text")}, {}},
      {kVerdictShown,
       {needed(word("conditions", {"kept", "not kept"})), {"why", FieldKind::texts, {}, 0, 0, false}},
       {}},
  };
}

std::string joined(const std::vector<std::string_view>& words) {
  std::string all;
  for (const std::string_view one : words) all += (all.empty() ? "" : ", ") + std::string(one);
  return all;
}

std::string known_entries() {
  std::vector<std::string_view> names;
  for (const EntryRule& rule : entry_table()) names.push_back(rule.name);
  return joined(names);
}

std::string known_fields(const EntryRule& entry) {
  std::vector<std::string_view> names;
  for (const FieldRule& rule : entry.fields) names.push_back(rule.name);
  for (const FieldRule& rule : fields_of_every_entry()) names.push_back(rule.name);
  return joined(names);
}

std::string place_of(std::string_view entry, std::string_view field) {
  return "entry " + std::string(entry) + ", field " + std::string(field);
}

Result<const EntryRule*> rule_of(std::string_view name) {
  for (const EntryRule& rule : entry_table())
    if (rule.name == name) return &rule;
  return fault("there is no entry '" + std::string(name) + "'", "", "the entries are: " + known_entries());
}

const FieldRule* field_rule(const EntryRule& entry, std::string_view name) {
  for (const auto* rules : {&entry.fields, &fields_of_every_entry()})
    for (const FieldRule& rule : *rules)
      if (rule.name == name) return &rule;
  return nullptr;
}

Result<const FieldRule*> known_field(const EntryRule& entry, std::string_view name) {
  if (const FieldRule* const rule = field_rule(entry, name)) return rule;
  return fault("this entry has no such field", place_of(entry.name, name),
               "its fields are: " + known_fields(entry));
}

std::string limits(const FieldRule& rule) {
  const auto short_number = [](double value) { return fixed(value, value == std::floor(value) ? 0 : 1); };
  return "a number from " + short_number(rule.low) + " to " + short_number(rule.high);
}

std::string wanted_by(const FieldRule& rule) {
  switch (rule.kind) {
    case FieldKind::text: return "a text of 1 to " + std::to_string(kLongestFieldText) + " bytes";
    case FieldKind::number: return limits(rule);
    case FieldKind::flag: return "true or false";
    case FieldKind::word: return "one of: " + joined(rule.words);
    case FieldKind::texts: return "a list of texts";
  }
  return {};
}

bool is_text(const Json& value) {
  if (!value.is_string()) return false;
  const std::size_t size = value.get_ref<const std::string&>().size();
  return size > 0 && size <= kLongestFieldText;
}

bool fits(const FieldRule& rule, const Json& value) {
  switch (rule.kind) {
    case FieldKind::text: return is_text(value);
    case FieldKind::number: {
      if (!value.is_number()) return false;
      const auto one = value.get<double>();
      return one >= rule.low && one <= rule.high;
    }
    case FieldKind::flag: return value.is_boolean();
    case FieldKind::word:
      return value.is_string() && std::find(rule.words.begin(), rule.words.end(),
                                            value.get_ref<const std::string&>()) != rule.words.end();
    case FieldKind::texts: return value.is_array() && std::all_of(value.begin(), value.end(), is_text);
  }
  return false;
}

Result<void> nothing_is_missing(const EntryRule& entry, const Json& fields) {
  for (const FieldRule& rule : entry.fields)
    if (rule.needed && !fields.contains(rule.name))
      return fault("this field is missing", place_of(entry.name, rule.name), "give " + wanted_by(rule));
  if (entry.one_of.empty()) return {};
  const bool any = std::any_of(entry.one_of.begin(), entry.one_of.end(),
                               [&](std::string_view name) { return fields.contains(name); });
  if (any) return {};
  return fault("one of these fields is needed: " + joined(entry.one_of), "entry " + std::string(entry.name));
}

Result<std::string> checked(const EntryRule& entry, const Json& fields) {
  for (const auto& [name, value] : fields.items()) {
    auto rule = known_field(entry, name);
    if (!rule) return tl::unexpected(rule.error());
    if (!fits(**rule, value))
      return fault("this value does not fit", place_of(entry.name, name), "give " + wanted_by(**rule));
  }
  if (auto whole = nothing_is_missing(entry, fields); !whole) return tl::unexpected(whole.error());
  return fields.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// A value as a person types it.
std::optional<Json> typed(const FieldRule& rule, const std::string& word) {
  switch (rule.kind) {
    case FieldKind::text:
    case FieldKind::word: return Json(word);
    case FieldKind::texts: return Json::array({word});
    case FieldKind::flag:
      if (word == "true" || word == "yes") return Json(true);
      if (word == "false" || word == "no") return Json(false);
      return std::nullopt;
    case FieldKind::number: {
      double value = 0;
      const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
      if (error != std::errc{} || end != word.data() + word.size() || !std::isfinite(value))
        return std::nullopt;
      return value == std::floor(value) && std::abs(value) < 1e15 ? Json(static_cast<std::int64_t>(value))
                                                                  : Json(value);
    }
  }
  return std::nullopt;
}

}  // namespace

const std::vector<EntryRule>& entry_table() {
  static const std::vector<EntryRule> kTable = make_table();
  return kTable;
}

const std::vector<FieldRule>& fields_of_every_entry() {
  static const std::vector<FieldRule> kFields{number("ago_s", 0, kLongestAgo_s), text("by")};
  return kFields;
}

Result<std::string> checked_fields(std::string_view name, std::string_view fields) {
  const auto entry = rule_of(name);
  if (!entry) return tl::unexpected(entry.error());
  const Json parsed = Json::parse(fields, nullptr, false);
  if (!parsed.is_object())
    return fault("the fields are not a JSON object", "entry " + std::string(name),
                 R"(for example {"ago_s":40,"by":"K."})");
  return checked(**entry, parsed);
}

Result<std::string> fields_from_words(std::string_view name, std::span<const std::string> words) {
  const auto entry = rule_of(name);
  if (!entry) return tl::unexpected(entry.error());
  Json fields = Json::object();
  for (const std::string& word : words) {
    const std::size_t equals = word.find('=');
    if (equals == std::string::npos)
      return fault("'" + word + "' is not key=value", "entry " + std::string(name),
                   "its fields are: " + known_fields(**entry));
    const std::string key = word.substr(0, equals);
    const auto rule = known_field(**entry, key);
    if (!rule) return tl::unexpected(rule.error());
    auto value = typed(**rule, word.substr(equals + 1));
    if (!value)
      return fault("'" + word.substr(equals + 1) + "' does not fit", place_of(name, key),
                   "give " + wanted_by(**rule));
    if (fields.contains(key) && (*rule)->kind == FieldKind::texts)
      fields[key].push_back((*value)[0]);
    else if (fields.contains(key))
      return fault("this field is given twice", place_of(name, key));
    else
      fields[key] = std::move(*value);
  }
  return checked(**entry, fields);
}

}  // namespace sumplog
