#pragma once
#include <optional>
#include <string>
#include <string_view>

namespace sumplog {

/// What counts when two plates, VINs or names are compared: letters and digits, in capitals; blanks, hyphens and dots do not.
/// Letters beside A-Z (UTF-8) stay; small ones of Latin-1, Greek and the first half of Cyrillic become capitals.
[[nodiscard]] std::string compared_form(std::string_view text);

/// The same for one byte of a text. in  before  the byte before it, 0 for the first
/// out  nothing: it does not count
[[nodiscard]] std::optional<char> compared_byte(char before, char byte);

}  // namespace sumplog
