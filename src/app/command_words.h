#pragma once
#include <string>
#include <vector>

namespace CLI {
class App;
}

namespace sumplog {

// What --help says, as data: for manual pages and completions, which are written from it.

struct OptionWords {
  std::vector<std::string> names;    ///< "-o", "--to"; empty: it is told by its place alone
  std::string place;                 ///< "FILE": a word without a name; empty: it has none
  std::string value;                 ///< kind of its value, "TEXT", "FLOAT"; empty: a switch
  std::vector<std::string> choices;  ///< the only values; empty: others too
  std::string help;
  bool needed = false;
  bool repeats = false;
};

struct CommandWords {
  std::string name;  ///< "jobs"
  std::string help;
  std::string footer;  ///< its example, or the cautions
  std::vector<OptionWords> options;
  std::vector<CommandWords> commands;
};

[[nodiscard]] CommandWords words_of(const CLI::App& command);

/// The whole program.
[[nodiscard]] CommandWords command_words();

}  // namespace sumplog
