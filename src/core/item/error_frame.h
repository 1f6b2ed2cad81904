#pragma once
#include <optional>

#include "core/item/frame.h"
#include "core/item/item.h"

namespace sumplog {

// What a controller tells in an error frame. src  linux/can/error.h

/// bus_off, or up when it was restarted after that. Nothing for every other frame.
[[nodiscard]] std::optional<LinkState> link_state_of(const CanFrame& frame);

/// True when a frame went wrong on the bus, or the controller counts such.
[[nodiscard]] bool tells_trouble(const CanFrame& frame);

}  // namespace sumplog
