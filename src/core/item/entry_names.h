#pragma once
#include <string_view>

namespace sumplog {

// Names of entries that make the program do something.

/// One reading of the fluid temperature now, also while nothing is asked because the ignition seems off.
inline constexpr std::string_view kReadOnceEntry = "read_once";

}  // namespace sumplog
