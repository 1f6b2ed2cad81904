#pragma once
#include <cstddef>
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
    return log.has_item() ? nullptr : taken(read_usual_line(lines.rest(), before_, frame()), lines, log);
  }
  /// The same, when the line behind it is here and begins so.
  [[nodiscard]] Item* take_before(char first, LineBuffer& lines, ReadingLog& log) {
    if (log.has_item()) return nullptr;
    const std::size_t bytes = read_usual_line(lines.rest(), before_, frame());
    return lines.rest().substr(bytes).starts_with(first) ? taken(bytes, lines, log) : nullptr;
  }

 private:
  CanFrame& frame() { return *std::get_if<CanFrame>(&item_); }
  Item* taken(std::size_t bytes, LineBuffer& lines, ReadingLog& log) {
    if (bytes == 0) return nullptr;
    lines.take(bytes);
    log.passed(frame().at);
    return &item_;
  }

  UsualLineBefore before_;
  Item item_ = CanFrame{};
};

}  // namespace sumplog
