#pragma once
#include <string>

#include "app/command_words.h"

namespace sumplog {

/// What a page says of itself at its edges.
struct PageEdge {
  std::string date;     ///< of the version, "2025-11-25"
  std::string version;  ///< "sumplog 0.1.0"
};

/// Manual pages of section 1 in man(7): the program, and one of its commands.
/// src  man(7), man-pages(7)
[[nodiscard]] std::string program_page(const CommandWords& program, const PageEdge& edge);
[[nodiscard]] std::string command_page(const CommandWords& command, const PageEdge& edge);

}  // namespace sumplog
