#pragma once
#include <string_view>

#include "core/item/frame.h"

namespace sumplog {

/// Reads the one form of a line that candump and this program write for a classic data frame, much faster than
/// parse_candump_line, which decides about every other line: "(1700000000.123456) can0 7E9#0462D10549000000", ten digits of
/// seconds, six of its fraction, 3 or 8 hex digits, upper or lower case, nothing behind the data.
/// in   frame  the one before: a bus of the same name is not written again
/// out  false when the line has another form: `frame` is then worth nothing
[[nodiscard]] bool read_usual_line(std::string_view line, CanFrame& frame);

}  // namespace sumplog
