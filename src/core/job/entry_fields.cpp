#include "core/job/entry_fields.h"

#include <cmath>
#include <nlohmann/json.hpp>

namespace sumplog {
namespace {

constexpr double kLongestAgo_s = 600;  // own choice: farther back nobody knows it to the minute
constexpr double kLongest_s = 86400;   // own choice: nothing in a job lasts longer
constexpr double kMicros = 1e6;        // in a second

nlohmann::json field(const Entry& entry, std::string_view key) {
  const nlohmann::json fields = nlohmann::json::parse(entry.fields, nullptr, false);
  if (!fields.is_object()) return {};
  const auto found = fields.find(std::string(key));
  return found == fields.end() ? nlohmann::json() : *found;
}

}  // namespace

std::optional<double> number_field(const Entry& entry, std::string_view key) {
  const nlohmann::json value = field(entry, key);
  if (!value.is_number()) return std::nullopt;
  return value.get<double>();  // finite: the parser refuses what is too large
}

std::optional<Duration> seconds_field(const Entry& entry, std::string_view key) {
  const auto seconds = number_field(entry, key);
  if (!seconds || !(*seconds >= 0 && *seconds <= kLongest_s)) return std::nullopt;
  return Duration{std::llround(*seconds * kMicros)};
}

std::optional<std::string> text_field(const Entry& entry, std::string_view key) {
  const nlohmann::json value = field(entry, key);
  return value.is_string() ? std::optional(value.get<std::string>()) : std::nullopt;
}

std::optional<bool> flag_field(const Entry& entry, std::string_view key) {
  const nlohmann::json value = field(entry, key);
  return value.is_boolean() ? std::optional(value.get<bool>()) : std::nullopt;
}

std::optional<TimePoint> said_time(const Entry& entry) {
  const auto ago_s = number_field(entry, "ago_s");
  if (!ago_s || !(*ago_s >= 0 && *ago_s <= kLongestAgo_s)) return std::nullopt;
  return entry.at - Duration{std::llround(*ago_s * kMicros)};
}

}  // namespace sumplog
