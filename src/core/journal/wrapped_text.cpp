#include "core/journal/wrapped_text.h"

#include <algorithm>

namespace sumplog {

std::string without_controls(std::string text) {
  constexpr char kDelete = 0x7F;
  for (char& c : text)
    if (static_cast<unsigned char>(c) < ' ' || c == kDelete) c = ' ';
  // U+0080 to U+009F are controls too, in UTF-8 (RFC 3629) C2 80 to C2 9F.
  constexpr char kLead = '\xC2';
  constexpr unsigned char kFirst = 0x80;
  constexpr unsigned char kLast = 0x9F;
  for (std::size_t at = text.find(kLead); at != std::string::npos; at = text.find(kLead, at + 1))
    if (at + 1 < text.size())
      if (const auto next = static_cast<unsigned char>(text[at + 1]); next >= kFirst && next <= kLast)
        text.replace(at, 2, " ");
  return text;
}

std::size_t columns_of(std::string_view text) {
  constexpr unsigned kContinuation = 0x80;  // UTF-8: 10xxxxxx
  constexpr unsigned kTopTwo = 0xC0;
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & kTopTwo) != kContinuation;
  }));
}

std::string joined(const std::vector<std::string>& words, std::string_view between) {
  std::string text;
  for (const std::string& word : words) {
    if (!text.empty()) text += between;
    text += word;
  }
  return text;
}

void add_wrapped(std::vector<std::string>& lines, const std::string& head, std::string_view text) {
  const std::string shown = without_controls(std::string(text));
  std::string line = without_controls(head);
  const std::string indent(columns_of(line), ' ');
  bool empty = true;
  for (std::size_t from = 0; from < shown.size();) {
    const std::size_t to = std::min(shown.find(' ', from), shown.size());
    const std::string_view word = std::string_view(shown).substr(from, to - from);
    from = to + 1;
    if (!empty && columns_of(line) + 1 + columns_of(word) > kColumns) {
      lines.push_back(line);
      line = indent;
      empty = true;
    }
    line += (empty ? "" : " ");
    line += word;
    empty = false;
  }
  lines.push_back(line);
}

void add_list(std::vector<std::string>& lines, const std::string& title,
              const std::vector<std::string>& list) {
  lines.push_back(title + (list.empty() ? " nothing" : ""));
  for (const std::string& one : list) add_wrapped(lines, "  ", one);
}

}  // namespace sumplog
