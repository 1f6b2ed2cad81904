#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "core/item/frame.h"

namespace sumplog {

/// Bytes that read_usual_line() looks at: no line of the usual form is longer.
inline constexpr std::size_t kUsualLineRoom = 64;

/// What the usual line before had: a second has thousands of lines, and a log mostly one bus.
struct UsualLineBefore {
  /// "(1700000" and, from its fifth character on, "0000000."; at first the second 0.
  std::array<std::uint64_t, 2> second_text{0x3030303030303028, 0x2E30303030303030};
  std::int64_t second_us = 0;  ///< what it says
  BusName bus;
  std::uint64_t bus_text = 0;  ///< name and blank, when both are eight characters at most
  std::uint64_t bus_mask = 0;  ///< of what counts in bus_text; 0 when there is none
};

/// Reads the one form of a line that candump and this program write for a classic data frame, much faster than
/// parse_candump_line, which decides about every other line: "(1700000000.123456) can0 7E9#0462D10549000000", ten digits of
/// seconds, six of its fraction, 3 or 8 hex digits, upper or lower case, nothing between the data and the newline.
/// in   text    begins with the line; at least kUsualLineRoom bytes, whatever is behind the line
///      before  of the same log; what is read does not depend on it
/// out  bytes of the line with its newline; 0 when it has another form, or less text is here: `frame` is then worth nothing
[[nodiscard]] std::size_t read_usual_line(std::string_view text, UsualLineBefore& before, CanFrame& frame);

}  // namespace sumplog
