#include <algorithm>
#include <utility>

#include "package/completion.h"
#include "package/value_kind.h"

namespace sumplog {
namespace {

/// For single quotes; and what _arguments reads as an end is kept from it.
std::string quoted(const std::string& text, const std::string& special) {
  std::string out;
  for (const char c : text) {
    if (c == '\'')
      out += "'\\''";
    else if (special.find(c) != std::string::npos)
      out += std::string("\\") + c;
    else
      out += c;
  }
  return out;
}

std::string action(const OptionWords& option) {
  const ValueKind kind = value_kind(option).value_or(ValueKind{});
  switch (kind.by) {
    case ValueKind::By::nothing: return " ";
    case ValueKind::By::words: return "(" + kind.words + ")";
    case ValueKind::By::file: return "_files";
    case ValueKind::By::folder: return "_files -/";
    case ValueKind::By::job: return "_sumplog_some_job";
    case ValueKind::By::decoder: return "_sumplog_some_decoder";
    case ValueKind::By::interface: return "_sumplog_some_interface";
  }
  return {};
}

std::string function_name(const std::string& path) {
  if (path.find(' ') == std::string::npos) return "_sumplog_commands";
  std::string name = "_" + path;
  std::replace(name.begin(), name.end(), ' ', '_');
  return name;
}

/// One line of _arguments for each name of an option, and for its place.
void add(const OptionWords& option, std::string& out) {
  std::string excluded;
  for (const std::string& name : option.names) excluded += (excluded.empty() ? "" : " ") + name;
  for (const std::string& name : option.names) {
    const bool takes = !option.value.empty();
    const bool equals = takes && name.starts_with("--");
    out += " \\\n    '" + (option.repeats ? "*" : "(" + excluded + ")") + name + (equals ? "=" : "") + "[" +
           quoted(option.help, "[]:\\") + "]";
    if (takes) out += ":" + quoted(option.value, ":\\") + ":" + action(option);
    out += "'";
  }
  if (!option.place.empty())
    out += std::string(" \\\n    '") +
           (option.repeats  ? "*"
            : option.needed ? ""
                            : ":") +
           ":" + quoted(option.place, ":\\") + ":" + action(option) + "'";
}

void add(const CommandWords& command, const std::string& path, std::string& out) {
  for (const CommandWords& below : command.commands) add(below, path + " " + below.name, out);
  const bool leaf = command.commands.empty();
  out += function_name(path) + "() {\n";
  if (!leaf) out += "  local line state\n";
  out += leaf ? "  _arguments -s -S" : "  _arguments -s -C";
  for (const OptionWords& option : command.options) add(option, out);
  if (leaf) {
    out += "\n}\n\n";
    return;
  }
  out +=
      " \\\n    '1:command:->command' '*::argument:->argument'\n  case $state in\n    command)\n      local "
      "-a commands\n      commands=(\n";
  for (const CommandWords& below : command.commands)
    out += "        '" + below.name + ":" + quoted(below.help, ":\\") + "'\n";
  out += "      )\n      _describe command commands\n      ;;\n    argument)\n      case $words[1] in\n";
  for (const CommandWords& below : command.commands)
    out += "        " + below.name + ") " + function_name(path + " " + below.name) + " ;;\n";
  out += "      esac\n      ;;\n  esac\n}\n\n";
}

}  // namespace

std::string zsh_completion(std::string frame, const CommandWords& program) {
  std::string functions;
  add(program, "sumplog", functions);
  return filled(std::move(frame), "FUNCTIONS", functions);
}

}  // namespace sumplog
