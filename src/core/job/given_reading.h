#pragma once
#include "core/item/item.h"
#include "core/journal/event.h"

namespace sumplog {

/// Fills in a reading of a CSV: unit, decimals, value.
/// out  false: its text is not a number
[[nodiscard]] bool describe_given(const GivenReading& given, ReadingEvent& reading);

}  // namespace sumplog
