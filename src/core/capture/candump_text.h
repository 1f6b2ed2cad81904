#pragma once
#include <string>
#include <string_view>

#include "core/item/frame.h"
#include "core/item/result.h"

namespace sumplog {

/// One frame in the form of candump -l, without a newline: "(1700000000.123456) can0 7E9#0462D10549000000".
/// Upper-case hex, 3 or 8 digits, "#R" remote, "##F" FD, error frames with bit 29 set; never a direction
/// suffix.
[[nodiscard]] std::string candump_line(const CanFrame& frame);

/// Reads one line of a candump log, without its newline.
/// in   dotted bytes, lower case, a trailing " R" or " T", fractions of 1…9 digits (decimal fractions,
/// truncated to µs), FD, error
///      frames; a carriage return at the end
/// err  what is wrong with the line, as a clause ("identifier has 5 digits; 3 or 8 are possible")
/// src  can-utils lib.h (parse_canframe), candump.c
[[nodiscard]] Result<CanFrame, std::string> parse_candump_line(std::string_view line);

}  // namespace sumplog
