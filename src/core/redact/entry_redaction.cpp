#include "core/redact/entry_redaction.h"

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <string_view>
#include <vector>

#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

using Json = nlohmann::json;

constexpr std::string_view kRemoved = "removed";

// docs/entries.md. Words of a closed list: they stay as they are.
constexpr std::array<std::string_view, 7> kWords{"stage", "flow",       "what",        "air",
                                                 "scan",  "conditions", "transmission"};
constexpr std::string_view kSelector = "selector_position";
// Texts that describe fluid, parts and tools: they stay, with every secret covered.
constexpr std::array<std::string_view, 7> kThings{"unit",      "fluid", "batch", "part",
                                                  "container", "place", "number"};
// docs/entries.md, `part` of a volume.
constexpr std::array<std::string_view, 7> kVolumes{"sample", "exchange", "drain",      "pan",
                                                   "refill", "top up",   "level check"};
// These say who and which car: they are left out.
constexpr std::array<std::string_view, 5> kWho{"plate", "customer", "technician", "complaint", "by"};

template <std::size_t N>
bool among(const std::array<std::string_view, N>& list, std::string_view name) {
  return std::find(list.begin(), list.end(), name) != list.end();
}

bool is_open_item(std::string_view name) {
  return name == kOpenItem || name == kOpenItemDone || name == kOpenItemSignedOver;
}

}  // namespace

void EntryRedaction::learn(const Entry& entry) {
  if (const auto plate = text_field(entry, "plate")) secrets_.add(*plate);
  for (const std::string_view who : {"customer", "technician", "by"})
    if (const auto name = text_field(entry, who)) secrets_.add_name(*name);
  if (const auto vin = text_field(entry, "vin")) typed_vins_.push_back(*vin);
  if (entry.name == kOpenItem)
    if (const auto item = text_field(entry, "item"))
      items_.emplace(*item, "item " + std::to_string(items_.size() + 1));
}

void EntryRedaction::keep_words_of(const JobConfiguration& configuration) {
  const auto& service = configuration.service;
  if (service && service->by_hand)
    conditions_.insert(service->by_hand->value.begin(), service->by_hand->value.end());
  if (service && service->selector)
    positions_.insert(service->selector->value.begin(), service->selector->value.end());
  if (service && service->selector_cycle)
    for (const SelectorHold& hold : service->selector_cycle->value) positions_.insert(hold.position);
  for (const Decoder& decoder : configuration.decoders)
    for (const Signal& signal : decoder.signals)
      if (signal.name == kSelector)
        for (const auto& [raw, label] : signal.labels) positions_.insert(label);
}

std::optional<Entry> EntryRedaction::redacted(const Entry& entry, VinFillers& vins) {
  if (entry.name == kPhoto) return std::nullopt;
  const Json fields = Json::parse(entry.fields, nullptr, false);
  JsonLine line;
  const auto text_of = [&](const std::string& key, const std::string& value) -> std::string {
    if (key == "vin") return vins.filler(value);
    if (among(kWords, key)) return value;
    // Covered as in the decoder and service texts: the copy's entries say the words of the copy's files.
    if ((key == "position" && positions_.contains(value)) ||
        (key == "condition" && conditions_.contains(value)))
      return secrets_.covered_unmistakable(value);
    if (key == "item" && is_open_item(entry.name)) {
      const auto typed = items_.find(value);
      return typed == items_.end() ? secrets_.covered(value) : typed->second;
    }
    if (key == "part" && among(kVolumes, value)) return value;
    if (among(kThings, key)) return secrets_.covered(value);
    if (entry.name == kVerdictShown) return secrets_.covered_unmistakable(value);  // the program's own words
    return std::string(kRemoved);
  };
  if (fields.is_object()) {
    for (const auto& [key, value] : fields.items()) {
      if (among(kWho, key)) continue;
      if (value.is_string()) {
        line.text(key, text_of(key, value.get<std::string>()));
      } else if (value.is_number() || value.is_boolean()) {
        line.raw(key, value.dump());
      } else if (value.is_array()) {
        std::vector<std::string> texts;
        for (const Json& one : value)
          if (one.is_string()) texts.push_back(text_of(key, one.get<std::string>()));
        line.texts(key, texts);
      }
    }
  }
  const auto id = ids_.emplace(entry.id, "e" + std::to_string(ids_.size() + 1)).first->second;
  return Entry{entry.at, id, entry.name, line.take()};
}

}  // namespace sumplog
