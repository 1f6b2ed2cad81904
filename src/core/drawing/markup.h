#pragma once
#include <string>
#include <string_view>

namespace sumplog {

/// Text that a person typed, or a file told, for the inside of HTML or SVG, between tags or in an attribute with quotes: nothing in
/// it can end either. Bytes that are no UTF-8, and control characters (XML has no way to write them), become U+FFFD; a line break
/// and a tab stay.
/// src  HTML Living Standard, 13.1.2.3 and 13.1.4; XML 1.0, 2.2
[[nodiscard]] std::string escaped(std::string_view text);

}  // namespace sumplog
