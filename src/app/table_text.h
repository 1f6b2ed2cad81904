#pragma once
#include <string>

#include "core/item/time.h"

namespace sumplog {

// How tables for a person are written.

/// Padded or cut to so many columns, each character one; UTF-8 is cut between characters. Control
/// characters become blanks.
[[nodiscard]] std::string cell(const std::string& text, std::size_t wide);

/// In this computer's time zone, "2025-11-25 10:15"; empty for a time that no calendar has.
[[nodiscard]] std::string local_time(TimePoint at);
/// The same without the day: "10:15".
[[nodiscard]] std::string local_clock(TimePoint at);

}  // namespace sumplog
