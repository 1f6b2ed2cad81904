#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace sumplog {

inline constexpr std::size_t kColumns = 80;  ///< of a terminal

/// What a person or a unit has written, with a blank for each control character: a terminal would obey them.
[[nodiscard]] std::string without_controls(std::string text);

/// Words behind `head`, broken so that no line is longer than 80 columns, unless a word is. Further lines are indented by
/// the width of `head`. Control characters become blanks.
void add_wrapped(std::vector<std::string>& lines, const std::string& head, std::string_view text);

/// A title, and each of the list indented below it; an empty list is told as "nothing".
void add_list(std::vector<std::string>& lines, const std::string& title,
              const std::vector<std::string>& list);

/// How many columns UTF-8 text takes, each character one.
[[nodiscard]] std::size_t columns_of(std::string_view text);

[[nodiscard]] std::string joined(const std::vector<std::string>& words, std::string_view between);

}  // namespace sumplog
