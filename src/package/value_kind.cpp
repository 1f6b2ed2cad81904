#include "package/value_kind.h"

#include <map>
#include <string_view>

#include "core/record/entry_table.h"

namespace sumplog {
namespace {

using By = ValueKind::By;

std::string entry_names() {
  std::string names;
  for (const EntryRule& rule : entry_table()) names += (names.empty() ? "" : " ") + std::string(rule.name);
  return names;
}

/// By the longest name of an option; a word without a name by its place.
const std::map<std::string_view, ValueKind>& table() {
  static const std::map<std::string_view, ValueKind> kTable{
      {"CAPTURE", {By::file, {}}},
      {"DECODER", {By::decoder, {}}},
      {"FIELD", {}},
      {"FILE", {By::file, {}}},
      {"JOB", {By::job, {}}},
      {"NAME", {By::words, entry_names()}},
      {"--ago", {}},
      {"--agreed-by", {}},
      {"--ask", {}},
      {"--batch", {}},
      {"--bay", {}},
      {"--bitrate", {By::words, "auto 250000 500000"}},
      {"--by", {}},
      {"--code", {}},
      {"--cold-soak", {}},
      {"--complaint", {}},
      {"--config", {By::file, {}}},
      {"--customer", {}},
      {"--data", {By::folder, {}}},
      {"--decoder", {By::decoder, {}}},
      {"--fingerprint", {}},
      {"--fluid", {}},
      {"--for", {}},
      {"--from", {}},
      {"--hostile", {}},
      {"--id", {}},
      {"--index", {By::file, {}}},
      {"--interface", {By::interface, {}}},
      {"--job", {By::job, {}}},
      {"--listen", {By::words, "off"}},
      {"--min-stay", {}},
      {"--odometer", {}},
      {"--on-cue", {By::file, {}}},
      {"--output", {By::file, {}}},
      {"--plate", {}},
      {"--rate", {}},
      {"--record", {By::words, "needed all"}},
      {"--rounding", {By::words, "round floor unknown"}},
      {"--sample-point", {}},
      {"--scenario", {By::file, {}}},
      {"--seen", {}},
      {"--service", {By::decoder, {}}},
      {"--sign-over", {}},
      {"--signal", {}},
      {"--sound", {By::words, "on off"}},
      {"--speed", {By::words, "max 1"}},
      {"--step", {}},
      {"--technician", {}},
      {"--to", {By::file, {}}},
      {"--transmission", {}},
      {"--unit", {}},
      {"--vin", {}},
      {"--window", {}},
      {"--write", {By::folder, {}}},
  };
  return kTable;
}

}  // namespace

std::optional<ValueKind> value_kind(const OptionWords& option) {
  if (!option.choices.empty()) {
    ValueKind kind{By::words, {}};
    for (const std::string& one : option.choices)
      if (one.find(' ') == std::string::npos) kind.words += (kind.words.empty() ? "" : " ") + one;
    return kind;
  }
  const auto found = table().find(option.names.empty() ? option.place : option.names.back());
  if (found == table().end()) return std::nullopt;
  return found->second;
}

}  // namespace sumplog
