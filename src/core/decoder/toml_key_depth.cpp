#include "core/decoder/toml_key_depth.h"

#include <algorithm>

namespace sumplog {
namespace {

/// Walks over a text once; knows strings and comments, and nothing else of TOML.
class Scanner {
 public:
  explicit Scanner(std::string_view text) : text_(text) {}

  std::optional<int> first_deep_line() {
    int dots = 0;
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (c == '"' || c == '\'') {
        skip_string(c);
        continue;
      }
      if (c == '#') {
        at_ = std::min(text_.find('\n', at_), text_.size());
        continue;
      }
      if (c == '.' && ++dots > kMaxKeyDots) return line_;
      if (std::string_view{"=,[]{}\n"}.find(c) != std::string_view::npos) dots = 0;  // the key is over
      if (c == '\n') ++line_;
      ++at_;
    }
    return std::nullopt;
  }

 private:
  static constexpr std::size_t kMultiLineQuotes = 3;

  void skip_string(char quote) {
    const std::string_view rest = text_.substr(at_);
    const std::size_t quotes = std::min(rest.find_first_not_of(quote), rest.size());
    if (quotes < kMultiLineQuotes) {
      at_ += 1;
      if (quotes == 2) {  // empty
        at_ += 1;
      } else {
        skip_to_end(quote, 1);
      }
      return;
    }
    at_ += kMultiLineQuotes;
    skip_to_end(quote, kMultiLineQuotes);
    // Two more quotes may belong to the text of a multi-line string that they end.
    for (int i = 0; i < 2 && at_ < text_.size() && text_[at_] == quote; ++i) ++at_;
  }

  /// Behind the next `count` quotes in a row; a string on one line also ends with the line, which TOML forbids.
  void skip_to_end(char quote, std::size_t count) {
    std::size_t in_a_row = 0;
    for (; at_ < text_.size() && in_a_row < count; ++at_) {
      const char c = text_[at_];
      if (c == '\n' && count == 1) return;
      if (c == '\n') ++line_;
      // An escaped quote or backslash ends nothing.
      const bool escapes = c == '\\' && quote == '"' && at_ + 1 < text_.size();
      if (escapes && (text_[at_ + 1] == quote || text_[at_ + 1] == '\\')) ++at_;
      in_a_row = c == quote ? in_a_row + 1 : 0;
    }
    at_ = std::min(at_, text_.size());
  }

  std::string_view text_;
  std::size_t at_ = 0;
  int line_ = 1;
};

}  // namespace

std::optional<int> line_of_deep_key(std::string_view text) {
  return Scanner{text}.first_deep_line();
}

}  // namespace sumplog
