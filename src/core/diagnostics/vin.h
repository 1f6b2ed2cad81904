#pragma once
#include <string_view>

namespace sumplog {

/// True when `vin` has 17 characters of the VIN alphabet (no I, O, Q).
/// src  ISO 3779
[[nodiscard]] bool is_vin(std::string_view vin);

/// True when the ninth character is the check digit of the others. European VINs need not match.
/// src  49 CFR 565.15(c)
[[nodiscard]] bool vin_check_digit_holds(std::string_view vin);

}  // namespace sumplog
