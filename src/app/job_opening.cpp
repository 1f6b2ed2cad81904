#include "app/job_opening.h"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <system_error>

#include "core/codes/code_file.h"
#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/job/setting.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

constexpr char kAlways[] = "obd-generic";
constexpr char kTemplate[] = "_template";

std::vector<std::string> split(const std::string& list) {
  std::vector<std::string> words;
  std::size_t at = 0;
  while (at <= list.size()) {
    const std::size_t comma = std::min(list.find(',', at), list.size());
    if (comma > at) words.push_back(list.substr(at, comma - at));
    at = comma + 1;
  }
  return words;
}

/// err  the value that is not a number, with the place of the setting
Result<void> check_number(const ProgramSettings& settings, std::string_view key, double low, double high) {
  const auto text = settings.value(key);
  if (!text) return {};
  char* end = nullptr;
  const double value = std::strtod(text->c_str(), &end);
  if (text->empty() || *end != '\0' || !(value >= low && value <= high))
    return fault("'" + *text + "' is not a number between " + std::to_string(static_cast<int>(low)) +
                     " and " + std::to_string(static_cast<int>(high)),
                 settings.place(key));
  return {};
}

Result<void> check_word(const ProgramSettings& settings, std::string_view key,
                        const std::vector<std::string>& words) {
  const auto text = settings.value(key);
  if (!text || std::find(words.begin(), words.end(), *text) != words.end()) return {};
  return fault("'" + *text + "' is not one of: " + joined(words, ", "), settings.place(key));
}

}  // namespace

std::string program_text() {
  return "sumplog " SUMPLOG_VERSION;
}

std::vector<std::string> decoder_folders() {
  std::vector<std::string> folders;
  std::error_code ignored;
  const fs::path program = fs::read_symlink("/proc/self/exe", ignored);
  // bin/ and share/ stand side by side where it is installed; a build folder is both.
  for (const fs::path& above : {program.parent_path().parent_path(), program.parent_path()})
    if (!above.empty()) folders.push_back((above / "share/sumplog/decoders").string());
  return folders;
}

std::vector<std::string> known_decoders() {
  std::set<std::string> ids;
  for (const std::string& folder : decoder_folders()) {
    std::error_code ignored;
    for (const auto& entry : fs::directory_iterator(folder, ignored))
      if (fs::exists(entry.path() / "signals.toml", ignored) && entry.path().filename() != kTemplate)
        ids.insert(entry.path().filename().string());
  }
  return {ids.begin(), ids.end()};
}

Result<std::string> read_text_file(const std::string& path, std::size_t limit) {
  std::error_code error;
  const auto status = fs::status(path, error);
  if (!fs::exists(status)) return fault("no such file", path);
  if (fs::is_directory(status)) return fault("this is a folder, not a file", path);
  std::ifstream file(path, std::ios::binary);
  if (!file) return fault("cannot be opened", path, "check the permissions");
  std::string text;
  char block[65536];
  while (file.read(block, sizeof block) || file.gcount() > 0) {
    text.append(block, static_cast<std::size_t>(file.gcount()));
    if (text.size() > limit) return fault("larger than " + std::to_string(limit) + " bytes", path);
  }
  if (file.bad()) return fault("cannot be read", path);
  return text;
}

Result<std::vector<DecoderText>> load_decoder(const std::string& id_or_folder) {
  std::error_code ignored;
  fs::path folder;
  if (id_or_folder.find('/') != std::string::npos || fs::is_directory(id_or_folder, ignored)) {
    folder = id_or_folder;
    while (folder.has_relative_path() && folder.filename().empty()) folder = folder.parent_path();
    if (!fs::is_directory(folder, ignored)) return fault("no such decoder folder", id_or_folder);
  } else {
    for (const std::string& place : decoder_folders())
      if (folder.empty() && fs::exists(fs::path(place) / id_or_folder / "signals.toml", ignored))
        folder = fs::path(place) / id_or_folder;
    if (folder.empty())
      return fault("no decoder '" + id_or_folder + "'", "--decoder",
                   "known are: " + joined(known_decoders(), ", ") + "; or give the path of a folder");
  }
  const std::string id = folder.filename().string();
  std::vector<DecoderText> texts;
  const std::string signals_path = (folder / "signals.toml").string();
  auto signals = read_text_file(signals_path);
  if (!signals) return tl::unexpected(signals.error());
  if (auto parsed = parse_decoder(*signals, signals_path); !parsed) return tl::unexpected(parsed.error());
  texts.push_back({{}, id + "/signals.toml", std::move(*signals)});
  const std::string service_path = (folder / "service.toml").string();
  if (fs::exists(service_path, ignored)) {
    auto service = read_text_file(service_path);
    if (!service) return tl::unexpected(service.error());
    if (auto parsed = parse_service_file(*service, service_path); !parsed)
      return tl::unexpected(parsed.error());
    texts.push_back({{}, id + "/service.toml", std::move(*service)});
  }
  const std::string codes_path = (folder / "codes.toml").string();
  if (fs::exists(codes_path, ignored)) {
    auto codes = read_text_file(codes_path);
    if (!codes) return tl::unexpected(codes.error());
    if (auto parsed = parse_code_file(*codes, codes_path); !parsed) return tl::unexpected(parsed.error());
    texts.push_back({{}, id + "/codes.toml", std::move(*codes)});
  }
  return texts;
}

Result<std::vector<Item>> opening_items(const ProgramSettings& settings, std::string job, TimePoint at) {
  if (const auto window = settings.value("window")) {
    if (auto parsed = parse_window(*window); !parsed)
      return fault(parsed.error().what, settings.place("window"), parsed.error().way_out);
  }
  constexpr double kLongestStay_s = 86400;
  constexpr double kSmallestStep_c = 0.0;
  constexpr double kLargestStep_c = 20;
  if (auto ok = check_number(settings, "min_stay", 0, kLongestStay_s); !ok) return tl::unexpected(ok.error());
  if (auto ok = check_number(settings, "step", kSmallestStep_c, kLargestStep_c); !ok)
    return tl::unexpected(ok.error());
  if (auto ok = check_word(settings, "rounding", {"round", "floor", "unknown"}); !ok)
    return tl::unexpected(ok.error());

  std::vector<std::string> wanted{kAlways};
  for (const std::string& one : split(settings.value("decoder").value_or("")))
    if (std::find(wanted.begin(), wanted.end(), one) == wanted.end()) wanted.push_back(one);
  std::vector<Item> texts;
  std::set<std::string> ids;
  for (const std::string& one : wanted) {
    auto loaded = load_decoder(one);
    if (!loaded) return tl::unexpected(loaded.error());
    for (DecoderText& text : *loaded) {
      if (text.name.ends_with("/signals.toml") && !ids.insert(text.name).second)
        return fault("two decoders are called '" + text.name.substr(0, text.name.find('/')) + "'",
                     settings.place("decoder"), "rename one folder");
      text.at = at;
      texts.emplace_back(std::move(text));
    }
  }
  if (const auto service = settings.value("service"); service && !ids.contains(*service + "/signals.toml"))
    return fault("'" + *service + "' is not a decoder in use", settings.place("service"),
                 "add it with --decoder");

  Settings opening{at, std::move(job), program_text(), {}, {}};
  const std::pair<std::string_view, std::string_view> kShaping[] = {{"window", setting::kWindow},
                                                                    {"service", setting::kService},
                                                                    {"min_stay", setting::kMinimumStay},
                                                                    {"step", setting::kStep},
                                                                    {"rounding", setting::kRounding}};
  for (const auto& [name, key] : kShaping)
    if (auto value = settings.value(name)) opening.values.emplace_back(std::string(key), std::move(*value));
  std::vector<Item> items{std::move(opening)};
  for (Item& text : texts) items.push_back(std::move(text));
  return items;
}

}  // namespace sumplog
