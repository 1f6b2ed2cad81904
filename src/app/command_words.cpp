#include "app/command_words.h"

#include <CLI/CLI.hpp>

namespace sumplog {
namespace {

/// CLI11 writes a check behind the kind: "TEXT:{before,after}", "FLOAT:POSITIVE".
void read_kind(const std::string& text, OptionWords& out) {
  const std::size_t colon = text.find(':');
  out.value = text.substr(0, colon);
  const std::size_t open = text.find('{');
  const std::size_t close = text.find('}');
  if (colon == std::string::npos || open != colon + 1 || close == std::string::npos) return;
  out.choices = CLI::detail::split(text.substr(open + 1, close - open - 1), ',');
}

OptionWords words_of(const CLI::Option& option) {
  OptionWords out;
  for (const std::string& name : option.get_snames()) out.names.push_back("-" + name);
  for (const std::string& name : option.get_lnames()) out.names.push_back("--" + name);
  if (option.get_positional()) out.place = option.get_name(true, false);
  if (option.get_items_expected_max() != 0) read_kind(option.get_type_name(), out);
  out.help = option.get_description();
  out.needed = option.get_required();
  out.repeats = option.get_expected_max() >= CLI::detail::expected_max_vector_size;
  return out;
}

}  // namespace

CommandWords words_of(const CLI::App& command) {
  CommandWords out{command.get_name(), command.get_description(), command.get_footer(), {}, {}};
  for (const CLI::Option* const option : command.get_options()) out.options.push_back(words_of(*option));
  for (const CLI::App* const below : command.get_subcommands([](const CLI::App*) { return true; }))
    out.commands.push_back(words_of(*below));
  return out;
}

}  // namespace sumplog
