#include "app/journal_lines.h"

#include <algorithm>
#include <utility>

namespace sumplog {

void JournalLines::add(std::string line) {
  ++last_;
  bytes_ += line.size();
  lines_.push_back(std::move(line));
  while (bytes_ > most_bytes_ && lines_.size() > 1) {
    bytes_ -= lines_.front().size();
    lines_.pop_front();
  }
}

std::uint64_t JournalLines::resume_after(std::uint64_t seen) const {
  return std::clamp(seen, last_ - lines_.size(), last_);
}

std::optional<EventBlock> JournalLines::events_after(std::uint64_t seen, std::size_t most_bytes) const {
  const std::uint64_t before_first = last_ - lines_.size();
  if (seen < before_first) return std::nullopt;
  EventBlock block{{}, seen};
  while (block.last < last_ && block.bytes.size() < most_bytes) {
    ++block.last;
    block.bytes += "id: " + std::to_string(block.last) + "\ndata: ";
    block.bytes += lines_[static_cast<std::size_t>(block.last - before_first - 1)];
    block.bytes += "\n\n";
  }
  return block;
}

}  // namespace sumplog
