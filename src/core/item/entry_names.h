#pragma once
#include <string_view>

namespace sumplog {

// Names of entries that make the program do something.

/// One reading of the fluid temperature now, also while nothing is asked because the ignition seems off.
inline constexpr std::string_view kReadOnceEntry = "read_once";

/// The drain or check plug came out, or is in again.
inline constexpr std::string_view kPlugOut = "plug_out";
inline constexpr std::string_view kPlugIn = "plug_in";
/// Read the fault codes now; field "scan" says for what.
inline constexpr std::string_view kScanEntry = "scan";
inline constexpr std::string_view kScanBefore = "before";
inline constexpr std::string_view kScanAfter = "after";
inline constexpr std::string_view kScanDuring = "during";

}  // namespace sumplog
