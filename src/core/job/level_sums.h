#pragma once
#include <optional>

#include "core/decoder/service_file.h"
#include "core/journal/event.h"

namespace sumplog {

/// What a plug that came in outside of the window means for the level; for the technician only, an estimate.
/// out  nothing: it came in inside, or the service file names no fill quantity
[[nodiscard]] std::optional<LevelSumsEvent> level_sums(TimePoint now, Celsius plug_in,
                                                       const TemperatureWindow& window,
                                                       const ServiceFile& service);

}  // namespace sumplog
