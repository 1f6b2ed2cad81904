#include "core/vehicle/hostile/journal_text.h"

#include <charconv>

namespace sumplog::hostile {

std::optional<std::string_view> JournalText::value(std::string_view key) const {
  // Our own keys and words hold no quotation marks; a key that stands inside a text would need one before it.
  std::size_t at = 0;
  while ((at = line_.find(key, at)) != std::string_view::npos) {
    const std::size_t end = at + key.size();
    const bool whole = at > 0 && line_[at - 1] == '"' && line_.substr(end).starts_with("\":");
    if (!whole) {
      at = end;
      continue;
    }
    const std::size_t begin = end + 2;
    if (line_.substr(begin).starts_with('"')) {
      const std::size_t close = line_.find('"', begin + 1);
      return line_.substr(begin + 1, close - begin - 1);
    }
    return line_.substr(begin, line_.find_first_of(",}", begin) - begin);
  }
  return std::nullopt;
}

std::optional<double> JournalText::number(std::string_view key) const {
  const auto text = value(key);
  if (!text) return std::nullopt;
  double number = 0;
  const auto [end, error] = std::from_chars(text->data(), text->data() + text->size(), number);
  if (error != std::errc{} || end != text->data() + text->size()) return std::nullopt;
  return number;
}

TimePoint JournalText::at() const {
  std::int64_t us = 0;
  for (const char c : text("t"))
    if (c >= '0' && c <= '9') us = us * 10 + (c - '0');  // six decimals, always
  return at_micros(us);
}

}  // namespace sumplog::hostile
