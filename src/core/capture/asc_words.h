#pragma once
#include <algorithm>
#include <string_view>

#include "core/item/time.h"

namespace sumplog {

/// How far a time stamp may lie from the date of its log: a century, no log is longer.
inline constexpr Duration kAscLongest{100LL * 366 * 86400 * 1000000};

/// Whether two words are the same when case does not count (ASCII).
[[nodiscard]] inline bool same_word(std::string_view a, std::string_view b) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [&](char x, char y) { return lower(x) == lower(y); });
}

/// The words of a line, one after the other; an empty word when there is no more.
class Words {
 public:
  explicit Words(std::string_view line) : rest_(line) { skip(); }
  [[nodiscard]] std::string_view peek() const { return rest_.substr(0, rest_.find_first_of(kBlanks)); }
  std::string_view take() {
    const std::string_view word = peek();
    rest_.remove_prefix(word.size());
    skip();
    return word;
  }
  [[nodiscard]] std::string_view rest() const { return rest_; }

 private:
  static constexpr std::string_view kBlanks = " \t\r";
  void skip() { rest_.remove_prefix(std::min(rest_.find_first_not_of(kBlanks), rest_.size())); }
  std::string_view rest_;
};

}  // namespace sumplog
