#pragma once
#include <ostream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "core/decoder/folders.h"

namespace sumplog::testing {

inline std::string test_file(const std::string& name) {
  return file_text(std::filesystem::path{SUMPLOG_SOURCE} / "tests/core/decoder" / name);
}

/// `text` with `from`, which stands in it once or first, replaced.
inline std::string changed(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  if (at == std::string::npos) throw std::logic_error("nothing to replace: " + from);
  return text.replace(at, from.size(), to);
}

/// One mistake: whole lines of a sound text, what they are changed to, and the error without the file's name.
struct Mistake {
  std::string name;
  std::string from;
  std::string to;
  std::string error;
};
/// Without it gtest prints every byte of the fields, and of a short text some were never written.
inline void PrintTo(const Mistake& mistake, std::ostream* out) {
  *out << mistake.name;
}

/// Reads a .mistakes file; how it looks: decoder.mistakes.
inline std::vector<Mistake> mistakes(const std::string& file_name) {
  std::vector<Mistake> out;
  std::istringstream lines(test_file(file_name));
  for (std::string line; std::getline(lines, line);) {
    if (line.empty() || line[0] == '#') continue;
    const std::string rest = line.size() > 2 ? line.substr(2) : "";
    switch (line[0]) {
      case '=': out.push_back({rest, "", "", ""}); break;
      case '-': out.back().from += rest + "\n"; break;
      case '+': out.back().to += rest + "\n"; break;
      case ' ':
        out.back().from += rest + "\n";
        out.back().to += rest + "\n";
        break;
      case '!': out.back().error = rest; break;
      default: throw std::logic_error(file_name + ": " + line);
    }
  }
  return out;
}

/// The sound text with the mistake in it. The lines must stand in it exactly once: otherwise the mistake
/// would be anywhere.
inline std::string spoilt(const std::string& sound, const Mistake& mistake) {
  const std::string lines = "\n" + sound;
  const std::string from = "\n" + mistake.from;
  const std::size_t at = lines.find(from);
  if (at == std::string::npos || lines.find(from, at + 1) != std::string::npos) {
    throw std::logic_error(mistake.name + ": the lines do not stand in the text exactly once");
  }
  std::string text = lines;
  return text.replace(at + 1, mistake.from.size(), mistake.to).substr(1);
}

}  // namespace sumplog::testing
