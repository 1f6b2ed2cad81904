#include "app/table_text.h"

#include <ctime>

#include "core/journal/wrapped_text.h"

namespace sumplog {

std::string cell(const std::string& text, std::size_t wide) {
  std::string out;
  std::size_t columns = 0;
  for (const char c : without_controls(text)) {
    const bool begins = (static_cast<unsigned char>(c) & 0xC0) != 0x80;  // RFC 3629: not a byte that goes on
    if (begins && columns == wide) break;
    columns += begins ? 1U : 0U;
    out += c;
  }
  return out + std::string(wide - columns, ' ');
}

std::string local_time(TimePoint at) {
  constexpr std::int64_t kSecond_us = 1000000;
  const auto seconds = static_cast<std::time_t>(micros(at) / kSecond_us);
  std::tm local{};
  if (localtime_r(&seconds, &local) == nullptr) return {};
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%d %H:%M", &local);
  return text;
}

std::string local_clock(TimePoint at) {
  const std::string time = local_time(at);
  const std::size_t blank = time.find(' ');
  return blank == std::string::npos ? std::string() : time.substr(blank + 1);
}

}  // namespace sumplog
