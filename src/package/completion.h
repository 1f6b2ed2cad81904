#pragma once
#include <string>

#include "app/command_words.h"

namespace sumplog {

// The completion of the whole program, as the shell reads it. What changes from computer to computer is looked up when a person
// presses the key: decoders by asking the program, interfaces and jobs on the system.
// in   frame  the text of completion.bash.in or completion.zsh.in

[[nodiscard]] std::string bash_completion(std::string frame, const CommandWords& program);
[[nodiscard]] std::string zsh_completion(std::string frame, const CommandWords& program);

/// Puts `text` in the place of the line `@NAME@`.
[[nodiscard]] inline std::string filled(std::string frame, const std::string& name, const std::string& text) {
  const std::string mark = "@" + name + "@\n";
  const std::size_t at = frame.find(mark);
  return at == std::string::npos ? frame : frame.replace(at, mark.size(), text);
}

}  // namespace sumplog
