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
  /// The text of the line that next() would give, when it is whole and not overlong; it is not taken. Empty: ask next().
  [[nodiscard]] std::string_view peek();
  /// Whether the line behind the one that peek() showed is here and begins so.
  [[nodiscard]] bool peeked_is_followed_by(char first) const {
    return searched_ + 1 < pending_.size() && pending_[searched_ + 1] == first;
  }
  /// Takes the line that peek() showed.
  void take_peeked() {
    ++number_;
    read_ = searched_ + 1;
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
