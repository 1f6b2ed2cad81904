#pragma once
#include <cstddef>
#include <string_view>

#include "core/item/frame.h"

namespace sumplog {

/// Bytes that read_usual_line() looks at: no line of the usual form is longer.
inline constexpr std::size_t kUsualLineRoom = 64;

/// Reads the one form of a line that candump and this program write for a classic data frame, much faster than
/// parse_candump_line, which decides about every other line: "(1700000000.123456) can0 7E9#0462D10549000000", ten digits of
/// seconds, six of its fraction, 3 or 8 hex digits, upper or lower case, nothing between the data and the newline.
/// in   text   begins with the line; at least kUsualLineRoom bytes, whatever is behind the line
///      frame  the one before: a bus of the same name is not written again
/// out  bytes of the line with its newline; 0 when it has another form, or less text is here: `frame` is then worth nothing
[[nodiscard]] std::size_t read_usual_line(std::string_view text, CanFrame& frame);

}  // namespace sumplog
