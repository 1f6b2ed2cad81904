#pragma once

namespace sumplog {

/// From here on an engine runs by itself: it turns faster than any starter motor cranks it (common practice,
/// no source).
inline constexpr double kRunningRpm = 350;

}  // namespace sumplog
