#pragma once
#include <cstdint>
#include <optional>
#include <string_view>

namespace sumplog {

/// Seconds as decimal text to whole microseconds, without going through a double: "13.258199", "-0.5", "7".
/// in   text  digits, at most one point, a sign in front; any number of decimals, truncated to microseconds
/// err  nothing when it is not such a number or does not fit
[[nodiscard]] std::optional<std::int64_t> decimal_micros(std::string_view text);

}  // namespace sumplog
