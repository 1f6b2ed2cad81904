#include "core/item/json_line.h"

#include <array>
#include <cassert>
#include <charconv>
#include <cmath>

#include "core/item/utf8.h"

namespace sumplog {
namespace {

constexpr char kHex[] = "0123456789ABCDEF";

void append_escaped(std::string& out, unsigned char c) {
  switch (c) {
    case '"': out += "\\\""; break;
    case '\\': out += "\\\\"; break;
    case '\n': out += "\\n"; break;
    case '\t': out += "\\t"; break;
    case '\r': out += "\\r"; break;
    default:
      if (c >= 0x80) {  // no UTF-8
        out += "\xEF\xBF\xBD";
        break;
      }
      out += "\\u00";
      out += kHex[c >> 4];
      out += kHex[c & 15];
  }
}

/// Most characters stand for themselves: they are copied in runs.
void append_json_string(std::string& out, std::string_view text) {
  out += '"';
  std::size_t copied = 0;
  for (std::size_t i = 0; i < text.size();) {
    const auto c = static_cast<unsigned char>(text[i]);
    const bool plain = c >= 0x20 && c < 0x7F && c != '"' && c != '\\';
    if (const std::size_t n = plain ? 1 : c >= 0x80 ? utf8_length(text, i) : 0; n != 0) {
      i += n;
      continue;
    }
    out += text.substr(copied, i - copied);
    append_escaped(out, c);
    copied = ++i;
  }
  out += text.substr(copied);
  out += '"';
}

}  // namespace

std::string fixed(double value, int decimals) {
  assert(std::isfinite(value) && decimals >= 0 && decimals <= 9);
  std::array<char, 400> buffer;
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals)
          .ptr;
  std::string text(buffer.data(), end);
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

std::string shortest(double value, int most_decimals) {
  std::string text = fixed(value, most_decimals);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

std::string seconds_text(TimePoint at) {
  const std::int64_t us = micros(at);
  const bool negative = us < 0;
  const std::uint64_t magnitude =
      negative ? ~static_cast<std::uint64_t>(us) + 1 : static_cast<std::uint64_t>(us);
  constexpr std::uint64_t kSecond = 1000000;
  std::string fraction = std::to_string(kSecond + magnitude % kSecond);  // the one in front keeps the zeros
  fraction.front() = '.';
  return (negative ? "-" : "") + std::to_string(magnitude / kSecond) + fraction;
}

std::string hex_text(const std::uint8_t* bytes, std::size_t count) {
  std::string text;
  text.reserve(2 * count);
  for (std::size_t i = 0; i < count; ++i) {
    text += kHex[bytes[i] >> 4];
    text += kHex[bytes[i] & 15];
  }
  return text;
}

std::string json_string(std::string_view text) {
  std::string out;
  append_json_string(out, text);
  return out;
}

std::string json_array(const std::vector<std::string>& values) {
  std::string text = "[";
  for (const std::string& value : values) text += (text.size() > 1 ? "," : "") + value;
  return text + "]";
}

JsonLine::JsonLine() {
  constexpr std::size_t kUsualLine = 256;  // bytes: most lines of a journal grow no further
  line_.reserve(kUsualLine);
  line_ += '{';
}

void JsonLine::key(std::string_view name) {
  if (line_.size() > 1) line_ += ',';
  append_json_string(line_, name);
  line_ += ':';
}

JsonLine& JsonLine::time(std::string_view name, TimePoint at) {
  key(name);
  line_ += seconds_text(at);
  return *this;
}

JsonLine& JsonLine::duration(std::string_view name, Duration span) {
  key(name);
  line_ += seconds_text(at_micros(span.count()));
  return *this;
}

JsonLine& JsonLine::text(std::string_view name, std::string_view value) {
  key(name);
  append_json_string(line_, value);
  return *this;
}

JsonLine& JsonLine::number(std::string_view name, double value, int decimals) {
  assert(std::isfinite(value));
  if (!std::isfinite(value)) return *this;
  key(name);
  line_ += fixed(value, decimals);
  return *this;
}

JsonLine& JsonLine::integer(std::string_view name, std::int64_t value) {
  key(name);
  line_ += std::to_string(value);
  return *this;
}

JsonLine& JsonLine::flag(std::string_view name, bool value) {
  key(name);
  line_ += value ? "true" : "false";
  return *this;
}

JsonLine& JsonLine::texts(std::string_view name, const std::vector<std::string>& values) {
  key(name);
  line_ += '[';
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (i > 0) line_ += ',';
    append_json_string(line_, values[i]);
  }
  line_ += ']';
  return *this;
}

JsonLine& JsonLine::raw(std::string_view name, std::string_view json) {
  key(name);
  line_ += json;
  return *this;
}

std::string JsonLine::take() {
  std::string line = std::move(line_) + "}";
  line_ = "{";
  return line;
}

}  // namespace sumplog
