#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/item/time.h"

namespace sumplog {

/// Reads the date of an ASC log: "Tue Nov 14 10:13:20.480 pm 2023", "Die Nov 14 22:13:20 2023".
/// The text names no time zone: it is taken as UTC.
/// in   the weekday may be any word; months in English or German, 12 or 24 hours, up to 9 decimals of a
/// second err  nothing when it is not such a date src  can-utils asc2log.c (get_date)
[[nodiscard]] std::optional<TimePoint> parse_asc_date(std::string_view text);

/// The same text for a time, English, 12 hours, milliseconds, as log tools expect it.
[[nodiscard]] std::string asc_date_text(TimePoint at);

}  // namespace sumplog
