#pragma once
#include <cstddef>
#include <string_view>

namespace sumplog {

/// Length of the UTF-8 sequence that starts at `at`, 0 when it is not valid.
/// src  Unicode 15, table 3-7
[[nodiscard]] std::size_t utf8_length(std::string_view text, std::size_t at);

}  // namespace sumplog
