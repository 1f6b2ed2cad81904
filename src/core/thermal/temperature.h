#pragma once
#include <compare>

namespace sumplog {

// clang-tidy 14 takes a defaulted <=> for a null pointer.
// NOLINTBEGIN(modernize-use-nullptr)

/// A difference of two temperatures, in kelvin (= °C of difference).
struct CelsiusDifference {
  double value = 0;
  friend auto operator<=>(const CelsiusDifference&, const CelsiusDifference&) = default;
};

/// A point on the Celsius scale. Two points do not add.
struct Celsius {
  double value = 0;
  friend auto operator<=>(const Celsius&, const Celsius&) = default;
  friend constexpr CelsiusDifference operator-(Celsius a, Celsius b) { return {a.value - b.value}; }
  friend constexpr Celsius operator+(Celsius a, CelsiusDifference d) { return {a.value + d.value}; }
  friend constexpr Celsius operator-(Celsius a, CelsiusDifference d) { return {a.value - d.value}; }
};

/// Rate of rise.
struct CelsiusPerMinute {
  double value = 0;
  friend auto operator<=>(const CelsiusPerMinute&, const CelsiusPerMinute&) = default;
};

// NOLINTEND(modernize-use-nullptr)

/// °F exists only at the edge; a value and a difference convert differently.
[[nodiscard]] constexpr double fahrenheit(Celsius t) {
  return t.value * 9.0 / 5.0 + 32.0;
}
[[nodiscard]] constexpr double fahrenheit(CelsiusDifference d) {
  return d.value * 9.0 / 5.0;
}
[[nodiscard]] constexpr double fahrenheit(CelsiusPerMinute r) {
  return r.value * 9.0 / 5.0;
}
[[nodiscard]] constexpr Celsius from_fahrenheit(double degrees) {
  return {(degrees - 32.0) * 5.0 / 9.0};
}

}  // namespace sumplog
