#include "core/journal/entry_lines.h"

#include <variant>

namespace sumplog {

void EntryLines::on_event(const Event& event, const std::string& line) {
  if (!std::holds_alternative<EntryEvent>(event)) return;
  lines_.push_back(line);
  if (lines_.size() > kMost) lines_.pop_front();
}

std::string EntryLines::text() const {
  std::string all = "{\"entries\":[";
  for (const std::string& line : lines_) {
    if (&line != &lines_.front()) all += ',';
    all += line;
  }
  return all + "]}";
}

}  // namespace sumplog
