#pragma once
#include <string_view>

#include "core/capture/line_buffer.h"
#include "core/capture/reader.h"
#include "core/capture/reading_log.h"

namespace sumplog {

/// What the text forms share: lines, a byte order mark at the start, carriage returns, blank lines, overlong
/// lines, and a last line without a newline, which is a fragment and never counts: half a number is a wrong
/// number.
class TextReader : public CaptureReader {
 public:
  void on_bytes(std::string_view bytes) final { lines_.on_bytes(bytes); }
  void on_end() final { lines_.on_end(); }
  Item* next() override;
  Ending ending() const final { return log_.ending(); }

 protected:
  /// One line without newline, carriage return and blanks at either end; never empty.
  virtual void on_line(std::string_view line, std::uint64_t number) = 0;
  /// Whether such a last line without a newline loses nothing: a comment, a closing line.
  [[nodiscard]] virtual bool carries_nothing(std::string_view line) const = 0;

  LineBuffer lines_{kMaxRecord};
  ReadingLog log_;

 private:
  void take(const TextLine& line);
};

/// Without blanks and carriage returns at either end.
[[nodiscard]] std::string_view trimmed(std::string_view text);
/// Without the UTF-8 byte order mark that some editors put first.
[[nodiscard]] std::string_view without_mark(std::string_view text);

}  // namespace sumplog
