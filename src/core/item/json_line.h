#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/time.h"

namespace sumplog {

/// Writes one JSON object on one line, keys in the order of the calls. The only place where the program turns
/// numbers into JSON text: fixed decimals, -0 prints as 0. A value that is not known is simply not written; a
/// NaN or an infinity is a bug (asserted) and is left out.
class JsonLine {
 public:
  JsonLine();
  JsonLine& time(std::string_view key, TimePoint at);       ///< seconds, 6 decimals
  JsonLine& duration(std::string_view key, Duration span);  ///< seconds, 6 decimals
  JsonLine& text(std::string_view key, std::string_view value);
  JsonLine& number(std::string_view key, double value, int decimals);
  JsonLine& integer(std::string_view key, std::int64_t value);
  JsonLine& flag(std::string_view key, bool value);
  JsonLine& texts(std::string_view key, const std::vector<std::string>& values);
  /// `json` is inserted as it is: it must be valid JSON.
  JsonLine& raw(std::string_view key, std::string_view json);
  /// The object, without a newline; the writer is empty afterwards.
  [[nodiscard]] std::string take();

 private:
  void key(std::string_view name);
  std::string line_;
};

/// Fixed decimals, '.' as the point, no exponent, "-0.0" printed as "0.0".
/// in  value finite; decimals 0…9
[[nodiscard]] std::string fixed(double value, int decimals);
/// Without zeros at the end, and no more than so many decimals.
[[nodiscard]] std::string shortest(double value, int most_decimals);
/// Seconds with 6 decimals from whole microseconds, without going through a double.
[[nodiscard]] std::string seconds_text(TimePoint at);
/// A JSON string with its quotes. Control characters are escaped, bytes that are not UTF-8 become U+FFFD.
[[nodiscard]] std::string json_string(std::string_view text);
/// "[…]" of texts that are valid JSON each.
[[nodiscard]] std::string json_array(const std::vector<std::string>& values);
/// What `text` makes of each item, as JSON, in a list.
template <class Items, class Text>
[[nodiscard]] std::string json_array(const Items& items, Text text) {
  std::vector<std::string> values;
  values.reserve(items.size());
  for (const auto& item : items) values.push_back(text(item));
  return json_array(values);
}
/// Upper-case hex without separators.
[[nodiscard]] std::string hex_text(const std::uint8_t* bytes, std::size_t count);

}  // namespace sumplog
