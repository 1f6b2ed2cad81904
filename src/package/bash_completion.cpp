#include <utility>

#include "package/completion.h"
#include "package/value_kind.h"

namespace sumplog {
namespace {

std::string name_of(ValueKind::By by) {
  switch (by) {
    case ValueKind::By::nothing: return "nothing";
    case ValueKind::By::words: return "words";
    case ValueKind::By::file: return "file";
    case ValueKind::By::folder: return "folder";
    case ValueKind::By::job: return "job";
    case ValueKind::By::decoder: return "decoder";
    case ValueKind::By::interface: return "interface";
  }
  return {};
}

std::string assignment(const ValueKind& kind) {
  std::string text = "kind=" + name_of(kind.by);
  if (!kind.words.empty()) text += " words='" + kind.words + "'";
  return text + " ;;\n";
}

struct Cases {
  std::string kinds;
  std::string places;
  std::string commands;
};

void add(const CommandWords& command, const std::string& path, Cases& out) {
  std::string options;
  int place = 0;
  for (const OptionWords& option : command.options) {
    std::string patterns;
    for (const std::string& name : option.names) {
      options += (options.empty() ? "" : " ") + name;
      patterns += (patterns.empty() ? "'" : " | '") + path + " " + name + "'";
    }
    if (option.value.empty()) continue;
    const std::string kind = assignment(value_kind(option).value_or(ValueKind{}));
    if (!patterns.empty()) out.kinds += "    " + patterns + ") " + kind;
    if (option.place.empty()) continue;
    ++place;
    // One that repeats stands for every later word too.
    const std::string number = option.repeats ? "'*" : std::to_string(place) + "'";
    out.places += "    '" + path + " " + number + ") " + kind;
  }
  std::string commands;
  for (const CommandWords& below : command.commands) commands += (commands.empty() ? "" : " ") + below.name;
  out.commands += "    '" + path + "') commands='" + commands + "' options='" + options + "' ;;\n";
  for (const CommandWords& below : command.commands) add(below, path + " " + below.name, out);
}

}  // namespace

std::string bash_completion(std::string frame, const CommandWords& program) {
  Cases cases;
  add(program, "sumplog", cases);
  frame = filled(std::move(frame), "KINDS", cases.kinds);
  frame = filled(std::move(frame), "PLACES", cases.places);
  return filled(std::move(frame), "COMMANDS", cases.commands);
}

}  // namespace sumplog
