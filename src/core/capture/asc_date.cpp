#include "core/capture/asc_date.h"

#include <array>
#include <charconv>
#include <chrono>
#include <utility>

#include "core/capture/asc_words.h"
#include "core/capture/decimal_time.h"

namespace sumplog {
namespace {

constexpr std::array<std::string_view, 12> kMonths{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                   "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
// German names that differ; python-can 4.1 asc.py lists the same.
constexpr std::array<std::pair<std::string_view, unsigned>, 5> kGermanMonths{
    {{"M\xC3\xA4r", 3}, {"M\xE4r", 3}, {"Mai", 5}, {"Okt", 10}, {"Dez", 12}}};
constexpr std::array<std::string_view, 7> kWeekdays{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
constexpr unsigned kNoon = 12;
constexpr int kFirstYear = 1700;  // as far back as kEarliestTime
constexpr int kLastYear = 9999;

std::optional<unsigned> month_of(std::string_view word) {
  for (unsigned i = 0; i < kMonths.size(); ++i) {
    if (same_word(word.substr(0, 3), kMonths[i])) return i + 1;
  }
  for (const auto& [name, month] : kGermanMonths) {
    if (word.starts_with(name)) return month;
  }
  return std::nullopt;
}

template <class Number>
std::optional<Number> number(std::string_view text) {
  Number value{};
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

/// "22:13:20.480" to microseconds; hour 0…23.
std::optional<std::int64_t> time_of_day(std::string_view clock, std::string_view half) {
  const std::size_t first = clock.find(':');
  const std::size_t second = first == std::string_view::npos ? first : clock.find(':', first + 1);
  if (second == std::string_view::npos) return std::nullopt;
  auto hour = number<unsigned>(clock.substr(0, first));
  const auto minute = number<unsigned>(clock.substr(first + 1, second - first - 1));
  const auto seconds = decimal_micros(clock.substr(second + 1));
  constexpr std::int64_t kMinute = 60'000'000;
  // 60 s and a bit: a leap second
  if (!hour || !minute || !seconds || *minute > 59 || *seconds < 0 || *seconds > kMinute + 999'999)
    return std::nullopt;
  if (!half.empty()) {
    if (*hour < 1 || *hour > kNoon) return std::nullopt;
    *hour = *hour % kNoon + (same_word(half, "pm") ? kNoon : 0);
  }
  if (*hour > 23) return std::nullopt;
  return (static_cast<std::int64_t>(*hour) * 60 + *minute) * kMinute + *seconds;
}

}  // namespace

std::optional<TimePoint> parse_asc_date(std::string_view text) {
  Words words(text);
  words.take();  // the weekday, in whatever language
  const auto month = month_of(words.take());
  const auto day = number<unsigned>(words.take());
  const std::string_view clock = words.take();
  std::string_view half;
  if (same_word(words.peek(), "am") || same_word(words.peek(), "pm")) half = words.take();
  const auto year = number<int>(words.take());
  const auto in_day = time_of_day(clock, half);
  if (!month || !day || !year || !in_day || *year < kFirstYear || *year > kLastYear) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{*year}, std::chrono::month{*month},
                                         std::chrono::day{*day}};
  if (!date.ok()) return std::nullopt;
  const Duration days = std::chrono::local_days{date}.time_since_epoch();
  return TimePoint{days + Duration{*in_day}};
}

std::string asc_date_text(TimePoint at) {
  const auto days = std::chrono::floor<std::chrono::days>(at.time_since_epoch());
  const std::chrono::local_days midnight{days};
  const std::chrono::year_month_day date{midnight};
  const std::chrono::hh_mm_ss clock{
      std::chrono::floor<std::chrono::milliseconds>(at.time_since_epoch() - days)};
  const auto digits = [](auto value, std::size_t width) {
    std::string out = std::to_string(value);
    return out.insert(0, width - std::min(width, out.size()), '0');
  };
  const auto hour = clock.hours().count();
  const auto hour12 = hour % kNoon == 0 ? kNoon : hour % kNoon;
  return std::string(kWeekdays[std::chrono::weekday{midnight}.c_encoding()]) + ' ' +
         std::string(kMonths[static_cast<unsigned>(date.month()) - 1]) + ' ' +
         digits(static_cast<unsigned>(date.day()), 2) + ' ' + digits(hour12, 2) + ':' +
         digits(clock.minutes().count(), 2) + ':' + digits(clock.seconds().count(), 2) + '.' +
         digits(clock.subseconds().count(), 3) + (hour < kNoon ? " am " : " pm ") +
         std::to_string(static_cast<int>(date.year()));
}

}  // namespace sumplog
