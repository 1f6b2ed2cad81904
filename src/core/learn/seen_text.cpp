#include "core/learn/seen_text.h"

#include <charconv>
#include <cmath>
#include <optional>
#include <string_view>

namespace sumplog {
namespace {

constexpr double kColdest_c = -60, kHottest_c = 200;  // own choice: outside of it a probe was misread
constexpr double kMostError_c = 20, kLeastError_c = 0.05;

std::optional<double> number_of(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::optional<TimeOfDay> time_of_day(std::string_view text) {
  const std::size_t first = text.find(':');
  if (first == std::string_view::npos) return std::nullopt;
  const std::size_t second = text.find(':', first + 1);
  const auto hour = number_of(text.substr(0, first));
  const auto minute =
      number_of(text.substr(first + 1, second == std::string_view::npos ? second : second - first - 1));
  const auto seconds =
      second == std::string_view::npos ? std::optional<double>(0) : number_of(text.substr(second + 1));
  if (!hour || !minute || !seconds) return std::nullopt;
  const bool whole = *hour == std::floor(*hour) && *minute == std::floor(*minute);
  if (!whole || *hour < 0 || *hour > 23 || *minute < 0 || *minute > 59 || *seconds < 0 || *seconds >= 60)
    return std::nullopt;
  return TimeOfDay{static_cast<int>(*hour), static_cast<int>(*minute), *seconds};
}

}  // namespace

Result<SeenTemperature> parse_seen(const std::string& text, TimePoint begin,
                                   const std::function<TimePoint(const TimeOfDay&)>& on_the_day) {
  const auto wrong = [&](const std::string& why) {
    return fault(why, "--seen " + text, "write 36.0@10:02:10±1 or 36.0@+130±1");
  };
  const std::size_t at = text.find('@');
  if (at == std::string::npos) return wrong("no time");
  SeenTemperature seen;
  std::string_view when = std::string_view(text).substr(at + 1);
  for (const std::string_view sign : {std::string_view("±"), std::string_view("+-")}) {
    const std::size_t place = when.find(sign);
    if (place == std::string_view::npos) continue;
    const auto error = number_of(when.substr(place + sign.size()));
    if (!error || *error < kLeastError_c || *error > kMostError_c)
      return wrong("the error is no number of °C from 0.05 to 20");
    seen.error_c = *error;
    when = when.substr(0, place);
    break;
  }
  const auto temp = number_of(std::string_view(text).substr(0, at));
  if (!temp || *temp < kColdest_c || *temp > kHottest_c)
    return wrong("the temperature is no number of °C from -60 to 200");
  seen.temp_c = *temp;
  if (when.starts_with('+')) {
    const auto seconds = number_of(when.substr(1));
    constexpr double kLongest_s = 86'400;
    if (!seconds || *seconds < 0 || *seconds > kLongest_s) return wrong("the time is no number of seconds");
    seen.at = begin + Duration{std::llround(*seconds * 1e6)};
    return seen;
  }
  const auto clock = time_of_day(when);
  if (!clock) return wrong("the time is neither hours:minutes:seconds nor +seconds");
  seen.at = on_the_day(*clock);
  return seen;
}

}  // namespace sumplog
