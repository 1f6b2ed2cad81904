#pragma once
#include "app/program_settings.h"
#include "core/asker/asker.h"
#include "core/item/result.h"

namespace sumplog {

/// How fast the asker may ask: the usual two readings a second within 2 % of the bus, or the setting `rate`
/// within 10 %.
/// err  a rate that is none, with its place
[[nodiscard]] Result<AskerSettings> asker_settings(const ProgramSettings& settings, BusName bus);

}  // namespace sumplog
