#pragma once
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

/// One setting and its name in each place: --min-stay, SUMPLOG_MIN_STAY, min_stay in the configuration file.
struct SettingName {
  std::string_view key;   ///< "min_stay"
  std::string_view help;  ///< one clause
};
/// All settings, in the order of the help.
[[nodiscard]] const std::vector<SettingName>& setting_names();

/// Where settings come from, strongest first: command line, environment, configuration file.
class ProgramSettings {
 public:
  /// Takes a value of the command line.
  void set(std::string_view key, std::string value) {
    command_line_.insert_or_assign(std::string(key), std::move(value));
  }
  /// Reads SUMPLOG_* out of `environment` (entries "NAME=value").
  /// err  an unknown SUMPLOG_ name
  [[nodiscard]] Result<void> read_environment(const char* const* environment);
  /// Reads the text of a TOML file; `name` is what errors call it.
  /// err  with file:line: not TOML, an unknown key, a value that is neither text nor number nor a list of texts
  [[nodiscard]] Result<void> read_file(std::string_view text, const std::string& name);

  [[nodiscard]] std::optional<std::string> value(std::string_view key) const;
  /// For an error: "--window", "SUMPLOG_WINDOW", "sumplog.toml: window".
  [[nodiscard]] std::string place(std::string_view key) const;

 private:
  using Values = std::map<std::string, std::string, std::less<>>;
  Values command_line_;
  Values environment_;
  Values file_;
  std::map<std::string, std::string, std::less<>> file_places_;
};

}  // namespace sumplog
