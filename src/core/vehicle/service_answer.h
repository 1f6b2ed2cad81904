#pragma once
#include <cstdint>
#include <variant>
#include <vector>

namespace sumplog {

/// Says nothing.
struct NoAnswer {};
/// A negative response, by its code. ISO 14229-1, NRC.
struct Refusal {
  std::uint8_t code = 0;
};
/// What one service makes of a request: the whole positive answer, a refusal, or nothing.
using ServiceAnswer = std::variant<NoAnswer, std::vector<std::uint8_t>, Refusal>;

/// ISO 14229-1, negative response codes
namespace refusal {
inline constexpr Refusal kServiceNotSupported{0x11};
inline constexpr Refusal kSubFunctionNotSupported{0x12};
inline constexpr Refusal kIncorrectLength{0x13};
inline constexpr Refusal kConditionsNotCorrect{0x22};
inline constexpr Refusal kRequestOutOfRange{0x31};
}  // namespace refusal

}  // namespace sumplog
