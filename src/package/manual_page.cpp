#include "package/manual_page.h"

#include <algorithm>

#include "app/program_settings.h"

namespace sumplog {
namespace {

std::string upper(std::string text) {
  for (char& c : text)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return text;
}

/// Text for a line of roff: a hyphen that is typed stays one, and no line begins a request.
std::string escaped(const std::string& text) {
  std::string out;
  bool line_begins = true;
  for (const char c : text) {
    if (line_begins && (c == '.' || c == '\'')) out += "\\&";
    line_begins = c == '\n';
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else
      out += c;
  }
  return out;
}
std::string bold(const std::string& text) {
  return "\\fB" + escaped(text) + "\\fR";
}
std::string slanted(const std::string& text) {
  return "\\fI" + escaped(text) + "\\fR";
}
std::string section(const std::string& title) {
  return ".SH " + title + "\n";
}
/// A word and what it means.
std::string meaning(const std::string& word, const std::string& text) {
  return ".TP\n" + word + "\n" + escaped(text) + "\n";
}

std::string head(const std::string& name, const std::string& what, const PageEdge& edge) {
  return ".\\\" The build writes this page from what \\-\\-help says.\n.TH " + upper(name) + " 1 \"" +
         edge.date + "\" \"" + edge.version + "\" \"sumplog\"\n" + section("NAME") + escaped(name) + " \\- " +
         escaped(what) + "\n";
}

std::string value_of(const OptionWords& option) {
  if (option.choices.empty()) return slanted(option.value);
  std::string list;
  for (const std::string& one : option.choices) list += (list.empty() ? "" : "|") + bold(one);
  return list;
}

std::string option_list(const CommandWords& command) {
  std::string out;
  for (const OptionWords& option : command.options) {
    std::string names;
    for (const std::string& name : option.names) names += (names.empty() ? "" : ", ") + bold(name);
    if (names.empty())
      names = slanted(option.place) + (option.repeats ? " ..." : "");
    else if (!option.value.empty())
      names += " " + value_of(option);
    out += meaning(names, option.help + (option.needed ? " (needed)" : ""));
  }
  return out;
}

std::string synopsis(const CommandWords& command, const std::string& call) {
  std::string line = bold(call);
  for (const OptionWords& option : command.options)
    if (option.needed && option.place.empty())
      line += " " + bold(option.names.back()) + " " + value_of(option);
  line += " [" + slanted("option") + " ...]";
  for (const OptionWords& option : command.options) {
    if (option.place.empty() || !option.names.empty()) continue;
    const std::string word = slanted(option.place) + (option.repeats ? " ..." : "");
    line += option.needed ? " " + word : " [" + word + "]";
  }
  return line + "\n";
}

/// "Example:  sumplog jobs list" as its own paragraph.
std::string example(const CommandWords& command) {
  constexpr std::string_view kLabel = "Example:  ";
  const std::size_t at = command.footer.find(kLabel);
  if (at == std::string::npos) return {};
  return section("EXAMPLE") + ".nf\n" + escaped(command.footer.substr(at + kLabel.size())) + "\n.fi\n";
}

constexpr char kExitStatus[] =
    ".SH EXIT STATUS\n"
    ".TP\n\\fB0\\fR\ndone\n"
    ".TP\n\\fB1\\fR\nthe work failed: bus gone, vehicle silent, file changed, conditions not kept where that "
    "was asked\n"
    ".TP\n\\fB2\\fR\nthe call or an input file is wrong; the line on standard error names the thing, the "
    "place and the way out\n";

constexpr char kFiles[] =
    ".SH FILES\n"
    ".TP\n\\fI$XDG_DATA_HOME/sumplog\\fR, \\fI~/.local/share/sumplog\\fR\njob files, unless "
    "\\fB\\-\\-data\\fR names another folder\n"
    ".TP\n\\fI../share/sumplog/decoders\\fR\nseen from the program: the decoders that came with it\n"
    ".TP\n\\fI../share/doc/sumplog/docs\\fR\nuser guide, format of decoders and of job files, and the rest "
    "of the documents\n"
    ".TP\n\\fI/etc/sumplog/service.toml\\fR, \\fI/var/lib/sumplog\\fR\nsettings and job files of the service "
    "\\fBsumplog@.service\\fR\n";

constexpr char kDescription[] =
    "sumplog is for the technician who services automatic transmissions. Plugged into the car's diagnostic "
    "socket through a CAN\n"
    "adapter, it reads the fault codes before the work and after it, logs the temperature of the "
    "transmission fluid, and says when\n"
    "the level check can start. One file proves the job and replays offline. It only ever reads: nothing in "
    "it can change the\n"
    "vehicle.\n";

std::string settings_list() {
  std::string out = section("SETTINGS");
  out +=
      "Strongest first: the option of a command, the variable of the environment, the key of the file that "
      "\\fB\\-\\-config\\fR "
      "names (TOML).\n";
  for (const SettingName& setting : setting_names()) {
    const std::string key(setting.key);
    out += meaning(bold("SUMPLOG_" + upper(key)) + ", " + bold(key), std::string(setting.help));
  }
  return out;
}

}  // namespace

std::string program_page(const CommandWords& program, const PageEdge& edge) {
  std::string out = head("sumplog", "transmission fluid temperature through a level check, read-only", edge);
  out +=
      section("SYNOPSIS") + bold("sumplog") + " " + slanted("command") + " [" + slanted("option") + " ...]\n";
  out += section("DESCRIPTION") + kDescription;
  out += section("COMMANDS");
  for (const CommandWords& command : program.commands)
    out += meaning(bold(command.name), command.help + "; sumplog-" + command.name + "(1)");
  out += section("OPTIONS") + option_list(program);
  out += settings_list();
  out += kFiles;
  out += kExitStatus;
  out += section("CAUTIONS") + escaped(program.footer) + "\n";
  out += section("EXAMPLE") + ".nf\nsumplog demo \\-\\-once\n.fi\n";
  out += section("SEE ALSO");
  for (std::size_t i = 0; i < program.commands.size(); ++i)
    out += ".BR sumplog\\-" + program.commands[i].name + " (1)" +
           (i + 1 < program.commands.size() ? " ,\n" : "\n");
  return out;
}

std::string command_page(const CommandWords& command, const PageEdge& edge) {
  const std::string call = "sumplog " + command.name;
  std::string out = head("sumplog-" + command.name, command.help, edge);
  out += section("SYNOPSIS");
  if (command.commands.empty()) {
    out += synopsis(command, call);
    out += section("OPTIONS") + option_list(command);
  } else {
    for (std::size_t i = 0; i < command.commands.size(); ++i)
      out += (i == 0 ? "" : ".br\n") + synopsis(command.commands[i], call + " " + command.commands[i].name);
    out += section("OPTIONS") + option_list(command);
    for (const CommandWords& below : command.commands) {
      out += section(upper(below.name)) + escaped(below.help) + "\n" + option_list(below);
    }
  }
  out += kExitStatus;
  out += example(command);
  out += section("SEE ALSO") + ".BR sumplog (1)\n";
  return out;
}

}  // namespace sumplog
