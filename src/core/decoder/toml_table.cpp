#include "core/decoder/toml_table.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "core/decoder/signal_name.h"

namespace sumplog {
namespace {

std::string_view text_of(TomlValue::Kind kind) {
  switch (kind) {
    case TomlValue::Kind::text: return "a text in quotes";
    case TomlValue::Kind::integer: return "a whole number";
    case TomlValue::Kind::number: return "a number";
    case TomlValue::Kind::flag: return "true or false";
    case TomlValue::Kind::date: return "a date or time";
    case TomlValue::Kind::array: return "a list";
    case TomlValue::Kind::table: return "a table";
  }
  return "";
}

std::string quoted(std::string_view text) {
  constexpr std::size_t kLongest = 60;  // an error is one line to read, whatever the file holds
  std::string out = "'";
  for (const char c : text.substr(0, kLongest)) out += static_cast<unsigned char>(c) < ' ' ? ' ' : c;
  return out + (text.size() > kLongest ? "…'" : "'");
}

bool is_number(const TomlValue& value) {
  return value.kind == TomlValue::Kind::integer || value.kind == TomlValue::Kind::number;
}
double number_of(const TomlValue& value) {
  return value.kind == TomlValue::Kind::integer ? static_cast<double>(value.integer) : value.number;
}

}  // namespace

void FirstMistake::add(int line, std::string what, std::string way_out) {
  if (fault_) return;
  fault_ = Fault{std::move(what), file_name_ + ":" + std::to_string(line), std::move(way_out)};
}

void TomlTable::allow_only(std::span<const std::string_view> keys) const {
  for (const auto& [key, value] : table_->members) {
    if (std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
    const std::string_view meant = nearest(key, keys);
    mistake(value.line, "unknown key " + quoted(key),
            meant.empty() ? "known here: " + list_text(keys) : "did you mean '" + std::string{meant} + "'?");
  }
}

int TomlTable::line_of(std::string_view key) const {
  const TomlValue* found = table_->find(key);
  return found != nullptr ? found->line : table_->line;
}

void TomlTable::wrong_kind(std::string_view key, int line, std::string_view wanted,
                           TomlValue::Kind found) const {
  mistake(line, "'" + std::string{key} + "' must be " + std::string{wanted} + ", not " +
                    std::string{text_of(found)});
}

const TomlValue* TomlTable::of_kind(std::string_view key, TomlValue::Kind kind) const {
  const TomlValue* found = table_->find(key);
  if (found == nullptr || found->kind == kind) return found;
  wrong_kind(key, found->line, text_of(kind), found->kind);
  return nullptr;
}

std::optional<std::string> TomlTable::text(std::string_view key) const {
  const TomlValue* found = of_kind(key, TomlValue::Kind::text);
  if (found == nullptr) return std::nullopt;
  if (found->text.find_first_not_of(" \t\r\n") == std::string::npos) {
    mistake(found->line, "'" + std::string{key} + "' is empty");
    return std::nullopt;
  }
  return found->text;
}

std::optional<std::int64_t> TomlTable::integer(std::string_view key, std::int64_t low,
                                               std::int64_t high) const {
  const TomlValue* found = of_kind(key, TomlValue::Kind::integer);
  if (found == nullptr) return std::nullopt;
  if (found->integer < low || found->integer > high) {
    // Answered in the way in which the person wrote it.
    const auto shown = [&](std::int64_t value) {
      return found->hex ? hex_number(value) : std::to_string(value);
    };
    mistake(found->line, "'" + std::string{key} + "' is " + shown(found->integer) + ", outside " +
                             shown(low) + "…" + shown(high));
    return std::nullopt;
  }
  return found->integer;
}

std::optional<double> TomlTable::number(std::string_view key, double low, double high) const {
  const TomlValue* found = table_->find(key);
  if (found == nullptr) return std::nullopt;
  if (!is_number(*found)) {
    wrong_kind(key, found->line, text_of(TomlValue::Kind::number), found->kind);
    return std::nullopt;
  }
  const double value = number_of(*found);
  if (!(value >= low && value <= high)) {  // a NaN is in no range
    const bool whole = found->kind == TomlValue::Kind::integer;
    mistake(found->line, "'" + std::string{key} + "' is " +
                             (whole ? std::to_string(found->integer) : number_text(value)) + ", outside " +
                             number_text(low) + "…" + number_text(high));
    return std::nullopt;
  }
  return value;
}

std::optional<bool> TomlTable::flag(std::string_view key) const {
  const TomlValue* found = of_kind(key, TomlValue::Kind::flag);
  if (found == nullptr) return std::nullopt;
  return found->flag;
}

std::optional<std::pair<double, double>> TomlTable::interval(std::string_view key) const {
  const TomlValue* found = of_kind(key, TomlValue::Kind::array);
  if (found == nullptr) return std::nullopt;
  const auto& items = found->items;
  if (items.size() != 2 || !is_number(items[0]) || !is_number(items[1])) {
    mistake(found->line, "'" + std::string{key} + "' must be two numbers, [low, high]");
    return std::nullopt;
  }
  const double low = number_of(items[0]);
  const double high = number_of(items[1]);
  if (!std::isfinite(low) || !std::isfinite(high)) {
    mistake(found->line, "'" + std::string{key} + "' must be two finite numbers");
    return std::nullopt;
  }
  if (!(low < high)) {
    mistake(found->line, "'" + std::string{key} + "': low " + number_text(low) + " is not below high " +
                             number_text(high));
    return std::nullopt;
  }
  return std::pair{low, high};
}

std::vector<std::string> TomlTable::texts(std::string_view key) const {
  std::vector<std::string> out;
  const TomlValue* found = of_kind(key, TomlValue::Kind::array);
  if (found == nullptr) return out;
  if (found->items.empty()) mistake(found->line, "'" + std::string{key} + "' is an empty list");
  for (const TomlValue& item : found->items) {
    if (item.kind != TomlValue::Kind::text || item.text.empty()) {
      mistake(item.line, "'" + std::string{key} + "' must be a list of texts in quotes");
      return {};
    }
    out.push_back(item.text);
  }
  return out;
}

std::optional<TomlTable> TomlTable::table(std::string_view key) const {
  const TomlValue* found = of_kind(key, TomlValue::Kind::table);
  if (found == nullptr) return std::nullopt;
  return TomlTable{*found, *mistakes_};
}

std::vector<TomlTable> TomlTable::tables(std::string_view key) const {
  std::vector<TomlTable> out;
  const TomlValue* found = of_kind(key, TomlValue::Kind::array);
  if (found == nullptr) return out;
  for (const TomlValue& item : found->items) {
    if (item.kind != TomlValue::Kind::table) {
      mistake(item.line, "'" + std::string{key} + "' must be a list of tables");
      return {};
    }
    out.emplace_back(item, *mistakes_);
  }
  return out;
}

std::optional<std::size_t> TomlTable::word(std::string_view key,
                                           std::span<const std::string_view> words) const {
  const std::optional<std::string> found = text(key);
  if (!found) return std::nullopt;
  const auto place = std::find(words.begin(), words.end(), *found);
  if (place == words.end()) {
    mistake(line_of(key), "'" + std::string{key} + "' is " + quoted(*found), "known: " + list_text(words));
    return std::nullopt;
  }
  return static_cast<std::size_t>(place - words.begin());
}

void TomlTable::need(std::string_view key, std::string way_out) const {
  if (!has(key)) mistake(line(), "missing key '" + std::string{key} + "'", std::move(way_out));
}

std::string TomlTable::need_text(std::string_view key) const {
  need(key);
  return text(key).value_or("");
}
std::int64_t TomlTable::need_integer(std::string_view key, std::int64_t low, std::int64_t high) const {
  need(key);
  return integer(key, low, high).value_or(low);
}
double TomlTable::need_number(std::string_view key, double low, double high) const {
  need(key);
  return number(key, low, high).value_or(low);
}

std::string number_text(double value) {
  constexpr std::size_t kLongestNumber = 32;  // a shortest double needs at most 24 characters
  std::array<char, kLongestNumber> digits{};
  const auto done = std::to_chars(digits.data(), digits.data() + digits.size(), value == 0 ? 0.0 : value);
  return {digits.data(), done.ptr};
}

std::string hex_number(std::int64_t value) {
  constexpr int kHex = 16;
  constexpr std::size_t kLongestNumber = 17;  // a sign and 16 digits
  std::array<char, kLongestNumber> digits{};
  const auto done = std::to_chars(digits.data(), digits.data() + digits.size(), value, kHex);
  std::string out{digits.data(), done.ptr};
  for (char& c : out) {
    if (c >= 'a') c = static_cast<char>(c - 'a' + 'A');
  }
  return out.insert(out.front() == '-' ? 1 : 0, "0x");
}

std::string list_text(std::span<const std::string_view> words) {
  std::string out;
  for (const std::string_view word : words) out += (out.empty() ? "" : ", ") + std::string{word};
  return out;
}

}  // namespace sumplog
