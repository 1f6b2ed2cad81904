#pragma once
#include <array>
#include <string_view>

namespace sumplog {

/// What a job is made of, in the usual order. Any order is allowed, and each may come again.
inline constexpr std::array<std::string_view, 15> kStages{
    "reception",   "road test before", "codes before", "sample",          "line opened",
    "exchange",    "drain and parts",  "refill",       "cool down",       "selector cycle",
    "level check", "closing",          "codes after",  "road test after", "hand-over"};

}  // namespace sumplog
