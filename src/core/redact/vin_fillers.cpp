#include "core/redact/vin_fillers.h"

#include <algorithm>
#include <cstddef>

#include "core/diagnostics/vin.h"

namespace sumplog {
namespace {

constexpr std::size_t kVinLength = 17;     // ISO 3779
constexpr std::size_t kCheckPosition = 8;  // 49 CFR 565.15(c)
constexpr std::string_view kCheckCharacters = "0123456789X";
constexpr std::size_t kShortestTail = 3;  // own choice: fewer characters name nothing

bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}
bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
/// Small letters beside a-z differ from their capitals by the same distance where their last UTF-8 byte is one of these: Latin-1,
/// most of Greek and half of Cyrillic (The Unicode Standard, blocks 0080, 0370, 0400). Of other scripts two signs may come out as
/// the same: for a comparison that is harmless.
constexpr bool is_small_in_utf8(char c) {
  constexpr unsigned char kFirst = 0xA0;
  constexpr unsigned char kLast = 0xBE;
  return static_cast<unsigned char>(c) >= kFirst && static_cast<unsigned char>(c) <= kLast;
}
char capital(char c) {
  const bool small = (c >= 'a' && c <= 'z') || is_small_in_utf8(c);
  return small ? static_cast<char>(c - 'a' + 'A') : c;
}

}  // namespace

std::string compared_form(std::string_view text) {
  constexpr unsigned char kFirstOfUtf8 = 0x80;
  std::string form;
  for (const char c : text)
    if (is_letter(c) || is_digit(c) || static_cast<unsigned char>(c) >= kFirstOfUtf8) form += capital(c);
  return form;
}

std::string VinFillers::filler_of(const std::string& vin) {
  if (const auto found = known_.find(vin); found != known_.end()) return found->second;
  if (!is_vin(vin)) {
    // The end of a VIN is often all that is typed.
    if (vin.size() >= kShortestTail)
      for (const auto& [whole, filler] : known_)
        if (whole.ends_with(vin)) return filler.substr(filler.size() - vin.size());
    auto place = std::find(others_.begin(), others_.end(), vin);
    if (place == others_.end()) place = others_.insert(others_.end(), vin);
    // 'Y', then a number: never the end of a filler of a VIN.
    std::string filler(vin.size(), 'Y');
    const std::string number = std::to_string(place - others_.begin());
    if (number.size() < filler.size()) filler.replace(filler.size() - number.size(), number.size(), number);
    return filler;
  }
  std::string filler(kVinLength, 'X');
  std::string number = std::to_string(known_.size());
  if (number.size() < 2) number.insert(0, 1, '0');
  filler.replace(kVinLength - number.size(), number.size(), number);
  const bool wanted = vin_check_digit_holds(vin);
  for (const char check : kCheckCharacters) {
    filler[kCheckPosition] = check;
    if (vin_check_digit_holds(filler) == wanted) break;
  }
  known_.emplace(vin, filler);
  return filler;
}

std::string VinFillers::filler(std::string_view text) {
  const std::string form = compared_form(text);
  if (form.empty()) return std::string(text);
  const std::string filler = filler_of(form);
  const bool small = std::any_of(text.begin(), text.end(), [](char c) { return c >= 'a' && c <= 'z'; });
  std::string out;
  std::size_t at = 0;
  for (const char c : text) {
    if (compared_form(std::string_view(&c, 1)).empty()) {
      out += c;
      continue;
    }
    const char put = filler[at++];
    out += small && is_letter(put) ? static_cast<char>(put - 'A' + 'a') : put;
  }
  return out;
}

}  // namespace sumplog
