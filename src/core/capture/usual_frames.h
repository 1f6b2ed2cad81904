#pragma once
#include <variant>

#include "core/capture/line_buffer.h"
#include "core/capture/reading_log.h"
#include "core/capture/usual_line.h"
#include "core/item/item.h"

namespace sumplog {

/// A log has millions of lines of one form: they go straight from the buffer into the one place for a frame.
class UsualFrames {
 public:
  /// Takes the next line of `lines` when it is of the usual form, and nothing else waits in `log`.
  /// out  nullptr when it is not: nothing was taken
  [[nodiscard]] Item* take(LineBuffer& lines, ReadingLog& log) {
    CanFrame& frame = *std::get_if<CanFrame>(&item_);
    if (log.has_item() || !read_usual_line(lines.peek(), frame)) return nullptr;
    lines.take_peeked();
    log.passed(frame.at);
    return &item_;
  }

 private:
  Item item_ = CanFrame{};
};

}  // namespace sumplog
