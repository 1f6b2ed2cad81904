#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace sumplog {

/// One line of a text capture.
struct TextLine {
  std::string_view
      text;  ///< without its newline; valid until the next call of the buffer; empty when overlong
  std::uint64_t number = 0;  ///< from 1
  std::uint64_t bytes = 0;   ///< length without the newline, of an overlong line too
  bool whole = true;         ///< false: the input ended before the newline
  bool overlong = false;     ///< longer than the limit: its text was dropped
};

/// Cuts bytes into lines, whatever way the bytes come. Memory is bounded: of a line longer than `limit` only
/// the length is kept.
class LineBuffer {
 public:
  explicit LineBuffer(std::size_t limit);
  void on_bytes(std::string_view bytes);
  void on_end() { ended_ = true; }
  [[nodiscard]] std::optional<TextLine> next();
  /// What is here, from the beginning of the line that next() would give; valid until bytes come. Empty in an overlong line.
  [[nodiscard]] std::string_view rest() const {
    return dropped_ > 0 ? std::string_view{} : std::string_view(pending_).substr(read_);
  }
  /// Takes the line that rest() begins with.
  /// in   bytes  its length with its newline
  void take(std::size_t bytes) {
    ++number_;
    read_ += bytes;
  }

 private:
  std::size_t limit_;
  std::string pending_;
  std::size_t read_ = 0;       ///< of pending_
  std::size_t searched_ = 0;   ///< no newline of pending_ lies between read_ and here
  std::uint64_t dropped_ = 0;  ///< bytes of an overlong line that are no longer in pending_
  std::uint64_t number_ = 0;
  bool ended_ = false;
};

}  // namespace sumplog
