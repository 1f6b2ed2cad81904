#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "core/item/item.h"
#include "core/item/time.h"

namespace sumplog {

/// What an entry carries beside its name. A field that is absent, or of another kind, is nothing.
[[nodiscard]] std::optional<double> number_field(const Entry& entry, std::string_view key);
[[nodiscard]] std::optional<Duration> seconds_field(const Entry& entry, std::string_view key);  ///< 0 … a day
[[nodiscard]] std::optional<std::string> text_field(const Entry& entry, std::string_view key);
[[nodiscard]] std::optional<bool> flag_field(const Entry& entry, std::string_view key);

/// When that which is entered happened, as the person says: `ago_s` seconds before the entry.
/// out  nothing: nothing is said of it, or it is no time from 0 to ten minutes
[[nodiscard]] std::optional<TimePoint> said_time(const Entry& entry);

}  // namespace sumplog
