#include "core/capture/decimal_time.h"

#include <cstddef>
#include <limits>

namespace sumplog {

std::optional<std::int64_t> decimal_micros(std::string_view text) {
  constexpr std::int64_t kMicrosPerSecond = 1000000;
  constexpr std::int64_t kMaxSeconds = std::numeric_limits<std::int64_t>::max() / kMicrosPerSecond - 1;
  bool negative = false;
  if (!text.empty() && (text.front() == '-' || text.front() == '+')) {
    negative = text.front() == '-';
    text.remove_prefix(1);
  }
  std::int64_t seconds = 0;
  std::int64_t fraction = 0;
  std::int64_t place = kMicrosPerSecond;
  std::size_t digits = 0;
  bool after_point = false;
  for (const char c : text) {
    if (c == '.' && !after_point) {
      after_point = true;
      continue;
    }
    if (c < '0' || c > '9') return std::nullopt;
    ++digits;
    if (after_point) {
      place /= 10;
      fraction += place * (c - '0');  // place is 0 from the seventh decimal on: truncated
    } else {
      seconds = seconds * 10 + (c - '0');
      if (seconds > kMaxSeconds) return std::nullopt;
    }
  }
  if (digits == 0) return std::nullopt;
  const std::int64_t us = seconds * kMicrosPerSecond + fraction;
  return negative ? -us : us;
}

}  // namespace sumplog
