#pragma once
#include "core/codes/scan_result.h"
#include "core/journal/event.h"

namespace sumplog {

/// Codes by unit and code. A code that is missing in a unit that did not tell its codes is not gone: the unit is silent.
/// The time of the event is left open.
[[nodiscard]] ComparedEvent compare(const ScanResult& before, const ScanResult& after);

}  // namespace sumplog
