#include "core/capture/text_reader.h"

namespace sumplog {

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view kBlanks = " \t\r";
  constexpr char kLastBlank = ' ';  // what is above it is none: nearly every line is left as it is
  if (!text.empty() && text.front() > kLastBlank && text.back() > kLastBlank) return text;
  const std::size_t first = text.find_first_not_of(kBlanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(kBlanks) - first + 1);
}

std::string_view without_mark(std::string_view text) {
  constexpr std::string_view kMark = "\xEF\xBB\xBF";  // Unicode 15, section 23.8
  if (text.starts_with(kMark)) text.remove_prefix(kMark.size());
  return text;
}

Item* TextReader::next() {
  while (!log_.has_item()) {
    const auto line = lines_.next();
    if (!line) break;
    take(*line);
  }
  return log_.take();
}

void TextReader::take(const TextLine& line) {
  const std::string_view text = trimmed(line.number == 1 ? without_mark(line.text) : line.text);
  if (!line.whole) {
    if (line.overlong || (!text.empty() && !carries_nothing(text))) {
      log_.fragment(line.number, line.bytes, "the last line has no newline and does not count");
    }
  } else if (line.overlong) {
    log_.bad_record(line.number, "the line is longer than 1 MiB");
  } else if (!text.empty()) {
    on_line(text, line.number);
  }
}

}  // namespace sumplog
