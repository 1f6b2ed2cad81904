#include "core/journal/wrapped_text.h"

#include <algorithm>

namespace sumplog {

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
  const std::string indent(columns_of(head), ' ');
  std::string line = head;
  bool empty = true;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t to = std::min(text.find(' ', from), text.size());
    const std::string_view word = text.substr(from, to - from);
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
