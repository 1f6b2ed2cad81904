#include "core/item/compared_form.h"

namespace sumplog {

std::optional<char> compared_byte(char before, char byte) {
  // The Unicode Standard, UTF-8: small letters of these rows lie as far behind their capitals as a behind A.
  constexpr unsigned char kLatin = 0xC3;
  constexpr unsigned char kGreek = 0xCE;
  constexpr unsigned char kCyrillic = 0xD0;
  constexpr unsigned char kFirstSmall = 0xA0;
  constexpr unsigned char kLastSmall = 0xBE;
  constexpr unsigned char kFirstOfUtf8 = 0x80;
  const auto as_capital = [](char small) { return static_cast<char>(small - 'a' + 'A'); };
  if (byte >= 'a' && byte <= 'z') return as_capital(byte);
  if ((byte >= 'A' && byte <= 'Z') || (byte >= '0' && byte <= '9')) return byte;
  const auto value = static_cast<unsigned char>(byte);
  if (value < kFirstOfUtf8) return std::nullopt;
  const auto row = static_cast<unsigned char>(before);
  const bool cased = row == kLatin || row == kGreek || row == kCyrillic;
  return cased && value >= kFirstSmall && value <= kLastSmall ? as_capital(byte) : byte;
}

std::string compared_form(std::string_view text) {
  std::string form;
  char before = 0;
  for (const char c : text) {
    if (const auto counts = compared_byte(before, c)) form += *counts;
    before = c;
  }
  return form;
}

}  // namespace sumplog
