#include "core/redact/vin_fillers.h"

#include <algorithm>
#include <cstddef>

#include "core/diagnostics/vin.h"
#include "core/item/compared_form.h"

namespace sumplog {
namespace {

constexpr std::size_t kVinLength = 17;     // ISO 3779
constexpr std::size_t kCheckPosition = 8;  // 49 CFR 565.15(c)
constexpr std::string_view kCheckCharacters = "0123456789X";
constexpr std::size_t kShortestTail = 3;  // own choice: fewer characters name nothing

}  // namespace

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
    if (!compared_byte(0, c)) {
      out += c;
      continue;
    }
    const char put = filler[at++];
    // A filler holds digits and capitals.
    out += small && put >= 'A' ? static_cast<char>(put - 'A' + 'a') : put;
  }
  return out;
}

}  // namespace sumplog
