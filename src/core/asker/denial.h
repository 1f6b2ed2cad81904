#pragma once
#include <cstdint>
#include <string_view>

namespace sumplog {

// ISO 14229-1 negative response codes that mean something for what is asked next.
namespace negative_code {
inline constexpr std::uint8_t kServiceNotSupported = 0x11;
inline constexpr std::uint8_t kSubFunctionNotSupported = 0x12;
inline constexpr std::uint8_t kBusyRepeatRequest = 0x21;
inline constexpr std::uint8_t kConditionsNotCorrect = 0x22;
inline constexpr std::uint8_t kRequestOutOfRange = 0x31;
inline constexpr std::uint8_t kSecurityAccessDenied = 0x33;
inline constexpr std::uint8_t kSubFunctionNotInSession = 0x7E;
inline constexpr std::uint8_t kServiceNotInSession = 0x7F;
}  // namespace negative_code

/// What a refusal means that will not change while we are only reading; empty for every other one.
[[nodiscard]] inline std::string_view denial_of(std::uint8_t code) {
  switch (code) {
    case negative_code::kServiceNotSupported:
    case negative_code::kSubFunctionNotSupported:
    case negative_code::kRequestOutOfRange: return "the unit does not know this";
    case negative_code::kSecurityAccessDenied: return "not readable without security access";
    case negative_code::kSubFunctionNotInSession:
    case negative_code::kServiceNotInSession: return "not readable without another session";
  }
  return {};
}

}  // namespace sumplog
