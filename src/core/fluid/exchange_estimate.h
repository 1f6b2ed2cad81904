#pragma once
#include <optional>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/fluid/balance.h"
#include "core/journal/event.h"

namespace sumplog {

/// How much of the fluid is new after what was entered, in the order in which it happened: between well mixed and ideally
/// displaced, and below both where parts are not flushed.
/// in   wanted  share of new fluid, 0…1
/// out  nothing: the service file names no fill quantity. Its time is left open. Without steps: nothing new is in yet.
[[nodiscard]] std::optional<ExchangeEvent> exchange_estimate(const std::vector<CountedVolume>& volumes,
                                                             const ServiceFile& service,
                                                             std::optional<double> wanted);

}  // namespace sumplog
