#pragma once
#include "app/can_port.h"
#include "app/program_settings.h"
#include "core/item/result.h"

namespace sumplog {

/// What the settings `interface`, `bitrate` and `sample_point` ask for.
/// err  a bit rate or a sample point that is none, with its place
[[nodiscard]] Result<PortWish> port_wish(const ProgramSettings& settings);

}  // namespace sumplog
