#pragma once
#include <functional>
#include <string>

#include "core/item/result.h"
#include "core/item/time.h"
#include "core/learn/evidence.h"

namespace sumplog {

/// A time of day that a person typed, to be placed on the day of a capture.
struct TimeOfDay {
  int hour = 0, minute = 0;
  double second = 0;
};

/// Reads "36.0@10:02:10±1": a temperature in °C, when it was read, and how far it may be off; "±" may be written "+-", and be
/// left out. The time is one of day, or "+130" seconds from the beginning of the capture.
/// in   begin  of the capture
///      on_the_day  the first such time of day at or after `begin`, by the clock of the person
/// err  what is wrong with the text, with an example
[[nodiscard]] Result<SeenTemperature> parse_seen(
    const std::string& text, TimePoint begin, const std::function<TimePoint(const TimeOfDay&)>& on_the_day);

}  // namespace sumplog
