#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <string>

#include "package/completion.h"
#include "package/manual_page.h"
#include "package/value_kind.h"

// Writes manual pages and completions, while sumplog is built:     help_files TO FRAMES DATE VERSION

namespace sumplog {
namespace {

/// err  false: an option of which nobody has said what completes its value; it is named
bool all_kinds_known(const CommandWords& command) {
  bool known = true;
  for (const OptionWords& option : command.options) {
    if (option.value.empty() || value_kind(option)) continue;
    std::cerr << "help_files: " << command.name << ' '
              << (option.names.empty() ? option.place : option.names.back())
              << ": what completes it? Add it to src/package/value_kind.cpp\n";
    known = false;
  }
  for (const CommandWords& below : command.commands) known = all_kinds_known(below) && known;
  return known;
}

bool write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary);
  file << text;
  file.close();
  if (!file) std::cerr << "help_files: " << path.string() << ": cannot be written\n";
  return static_cast<bool>(file);
}

std::string text_of(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

bool write_all(const std::filesystem::path& folder, const std::filesystem::path& frames,
               const PageEdge& edge) {
  const CommandWords program = command_words();
  if (!all_kinds_known(program)) return false;
  std::filesystem::create_directories(folder);
  bool done = write(folder / "sumplog.1", program_page(program, edge));
  for (const CommandWords& command : program.commands)
    done = write(folder / ("sumplog-" + command.name + ".1"), command_page(command, edge)) && done;
  done = write(folder / "sumplog.bash", bash_completion(text_of(frames / "completion.bash.in"), program)) &&
         done;
  return write(folder / "_sumplog", zsh_completion(text_of(frames / "completion.zsh.in"), program)) && done;
}

}  // namespace
}  // namespace sumplog

int main(int count, char** words) {
  constexpr int kWords = 5;
  if (count != kWords) {
    std::cerr << "help_files: call it as help_files TO FRAMES DATE VERSION\n";
    return 2;
  }
  return sumplog::write_all(words[1], words[2], {words[3], std::string("sumplog ") + words[4]}) ? 0 : 1;
}
