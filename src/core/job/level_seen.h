#pragma once
#include <optional>

#include "core/decoder/service_file.h"
#include "core/item/item.h"
#include "core/journal/event.h"

namespace sumplog {

/// What a person saw at the standpipe, against the criterion of the service file.
/// in   entry  `level_seen` with `flow` or `ml_in_10_s`, or both
/// out  nothing: it says neither. Without a flow it follows from the millilitres. `reached`: the flow is the one that the
///      criterion asks for, and the millilitres do not speak against it
/// src  millilitres of each flow: common practice, no source
[[nodiscard]] std::optional<LevelSeen> level_seen(const Entry& entry,
                                                  const std::optional<ServiceFile>& service);

/// "dry", "drip", "thread" or "stream" by what was collected.
/// in   ml_in_10_s  0 or more
[[nodiscard]] std::string_view flow_of(double ml_in_10_s);

}  // namespace sumplog
