#include "app/program_settings.h"

#include <toml++/toml.h>

#include <algorithm>
#include <sstream>

#include "core/decoder/toml_key_depth.h"

namespace sumplog {
namespace {

constexpr std::string_view kPrefix = "SUMPLOG_";

bool known(std::string_view key) {
  const auto& names = setting_names();
  return std::any_of(names.begin(), names.end(), [&](const SettingName& name) { return name.key == key; });
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}
std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}
std::string dashed(std::string_view key) {
  std::string out(key);
  std::replace(out.begin(), out.end(), '_', '-');
  return out;
}

std::string key_list() {
  std::string list;
  for (const SettingName& name : setting_names()) list += (list.empty() ? "" : ", ") + std::string(name.key);
  return list;
}

/// The text of a TOML value: a number as it was written is not kept by the parser, so it is printed shortest.
std::optional<std::string> text_of(const toml::node& node) {
  if (const auto* text = node.as_string()) return text->get();
  if (const auto* whole = node.as_integer()) return std::to_string(whole->get());
  if (const auto* real = node.as_floating_point()) {
    std::ostringstream out;
    out.imbue(std::locale::classic());
    out << real->get();
    return out.str();
  }
  if (const auto* list = node.as_array()) {
    std::string joined;
    for (const toml::node& one : *list) {
      const auto* text = one.as_string();
      if (text == nullptr) return std::nullopt;
      joined += (joined.empty() ? "" : ",") + text->get();
    }
    return joined;
  }
  return std::nullopt;
}

}  // namespace

const std::vector<SettingName>& setting_names() {
  static const std::vector<SettingName> kNames{
      {"interface", "CAN interface (can0), or the port of a serial adapter (/dev/ttyACM0)"},
      {"bitrate", "bit/s of a link that is down: auto (default) finds it, or a number"},
      {"sample_point", "of the bit, for example 0.8; the kernel's own otherwise"},
      {"decoder", "decoder id or folder; several with commas"},
      {"service", "decoder whose service file is used, when several have one"},
      {"window", "temperature window LOW:HIGH in °C"},
      {"min_stay", "shortest useful stay in the window, seconds"},
      {"step", "step of the readings of a CSV, °C"},
      {"rounding", "rounding of the readings of a CSV: round, floor or unknown"},
      {"rate", "readings a second, at most; default 2"},
      {"sound", "sounds of this computer: on (default) or off"},
      {"on_cue", "program run for each cue, with its name, its sound and its text: a lamp, a horn"},
      {"data", "folder of the job files"},
      {"record", "frames that are kept: needed or all"},
      {"listen", "ADDRESS:PORT of the page (127.0.0.1:8723); off: none"},
      {"index", "index of the jobs: a file, or postgresql://…; index.sqlite in the data folder otherwise"},
      {"bay", "name of this bay in the index; the computer's name otherwise"},
  };
  return kNames;
}

Result<void> ProgramSettings::read_environment(const char* const* environment) {
  for (; environment != nullptr && *environment != nullptr; ++environment) {
    const std::string_view entry = *environment;
    if (!entry.starts_with(kPrefix)) continue;
    const std::size_t equals = entry.find('=');
    if (equals == std::string_view::npos) continue;
    const std::string key = lower(entry.substr(kPrefix.size(), equals - kPrefix.size()));
    if (!known(key))
      return fault("no such setting", std::string(entry.substr(0, equals)),
                   "the settings are: " + key_list());
    environment_.insert_or_assign(key, std::string(entry.substr(equals + 1)));
  }
  return {};
}

Result<void> ProgramSettings::read_file(std::string_view text, const std::string& name) {
  if (const auto line = line_of_deep_key(text))
    return fault("a key has too many dots", name + ":" + std::to_string(*line),
                 "the keys are: " + key_list());
  toml::table table;
  try {
    table = toml::parse(text, name);
  } catch (const toml::parse_error& error) {
    return fault(std::string(error.description()), name + ":" + std::to_string(error.source().begin.line));
  }
  for (const auto& [key, node] : table) {
    const std::string place = name + ":" + std::to_string(node.source().begin.line);
    if (!known(key.str()))
      return fault("unknown key '" + std::string(key.str()) + "'", place, "the keys are: " + key_list());
    const auto value = text_of(node);
    if (!value) return fault("'" + std::string(key.str()) + "' is neither a text nor a number", place);
    file_.insert_or_assign(std::string(key.str()), *value);
    file_places_.insert_or_assign(std::string(key.str()), place);
  }
  return {};
}

std::optional<std::string> ProgramSettings::value(std::string_view key) const {
  for (const Values* values : {&command_line_, &environment_, &file_})
    if (const auto found = values->find(key); found != values->end()) return found->second;
  return std::nullopt;
}

std::string ProgramSettings::place(std::string_view key) const {
  if (command_line_.contains(key)) return "--" + dashed(key);
  if (environment_.contains(key)) return std::string(kPrefix) + upper(key);
  const auto found = file_places_.find(key);
  return found == file_places_.end() ? "--" + dashed(key) : found->second;
}

}  // namespace sumplog
