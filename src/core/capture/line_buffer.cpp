#include "core/capture/line_buffer.h"

#include <algorithm>

namespace sumplog {

LineBuffer::LineBuffer(std::size_t limit) : limit_(limit) {}

void LineBuffer::on_bytes(std::string_view bytes) {
  if (read_ > 0) {
    pending_.erase(0, read_);
    searched_ -= std::min(searched_, read_);
    read_ = 0;
  }
  const bool in_overlong = dropped_ > 0 || pending_.size() > limit_;
  if (in_overlong && pending_.find('\n') == std::string::npos) {
    // Only the newline that ends the overlong line is of interest.
    dropped_ += pending_.size();
    pending_.clear();
    searched_ = 0;
    const std::size_t newline = bytes.find('\n');
    const std::size_t skip = newline == std::string_view::npos ? bytes.size() : newline;
    dropped_ += skip;
    bytes.remove_prefix(skip);
  }
  pending_ += bytes;
}

std::optional<TextLine> LineBuffer::next() {
  const std::size_t newline = pending_.find('\n', std::max(read_, searched_));
  const bool whole = newline != std::string::npos;
  searched_ = whole ? newline : pending_.size();
  if (!whole && (!ended_ || (read_ == pending_.size() && dropped_ == 0))) return std::nullopt;
  const std::size_t end = whole ? newline : pending_.size();
  TextLine line;
  line.number = ++number_;
  line.bytes = dropped_ + (end - read_);
  line.whole = whole;
  line.overlong = line.bytes > limit_;
  if (!line.overlong) line.text = std::string_view(pending_).substr(read_, end - read_);
  dropped_ = 0;
  read_ = whole ? end + 1 : end;
  return line;
}

}  // namespace sumplog
