#include "core/item/utf8.h"

namespace sumplog {

std::size_t utf8_length(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(i < text.size() ? text[i] : 0); };
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  const unsigned first = byte(at);
  const unsigned second = byte(at + 1);
  if (first < 0x80) return 1;
  if (first >= 0xC2 && first <= 0xDF) return tail(at + 1) ? 2 : 0;
  if (first >= 0xE0 && first <= 0xEF) {
    if (!tail(at + 1) || !tail(at + 2)) return 0;
    if (first == 0xE0 && second < 0xA0) return 0;
    if (first == 0xED && second > 0x9F) return 0;  // surrogates
    return 3;
  }
  if (first >= 0xF0 && first <= 0xF4) {
    if (!tail(at + 1) || !tail(at + 2) || !tail(at + 3)) return 0;
    if (first == 0xF0 && second < 0x90) return 0;
    if (first == 0xF4 && second > 0x8F) return 0;
    return 4;
  }
  return 0;
}

}  // namespace sumplog
