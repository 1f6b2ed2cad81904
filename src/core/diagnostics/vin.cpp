#include "core/diagnostics/vin.h"

#include <algorithm>
#include <array>

namespace sumplog {
namespace {

constexpr std::size_t kVinLength = 17;
constexpr std::size_t kCheckPosition = 8;
constexpr std::array<int, kVinLength> kWeights{8, 7, 6, 5, 4, 3, 2, 10, 0,
                                               9, 8, 7, 6, 5, 4, 3, 2};  // 49 CFR 565, table IV

/// 49 CFR 565, table III; -1 for a character that no VIN has.
int transliterated(char c) {
  constexpr std::string_view kLetters = "ABCDEFGHJKLMNPRSTUVWXYZ";
  constexpr std::string_view kValues = "12345678123457923456789";
  if (c >= '0' && c <= '9') return c - '0';
  const std::size_t at = kLetters.find(c);
  return at == std::string_view::npos ? -1 : kValues[at] - '0';
}

}  // namespace

bool is_vin(std::string_view vin) {
  return vin.size() == kVinLength &&
         std::all_of(vin.begin(), vin.end(), [](char c) { return transliterated(c) >= 0; });
}

bool vin_check_digit_holds(std::string_view vin) {
  if (!is_vin(vin)) return false;
  int sum = 0;
  for (std::size_t i = 0; i < kVinLength; ++i) sum += kWeights[i] * transliterated(vin[i]);
  const int rest = sum % 11;
  return vin[kCheckPosition] == (rest == 10 ? 'X' : static_cast<char>('0' + rest));
}

}  // namespace sumplog
