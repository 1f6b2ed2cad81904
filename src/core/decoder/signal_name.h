#pragma once
#include <span>
#include <string_view>

namespace sumplog {

/// A quantity that the program knows by name, and the unit in which it is kept.
struct SignalName {
  std::string_view name;
  std::string_view unit;
  std::string_view standard;  ///< where the name comes from
};

/// Every known name, in the order of docs/decoder_format.md. A decoder may use other names only with the
/// prefix below.
[[nodiscard]] std::span<const SignalName> signal_names();
/// Names of a decoder's own begin with this: a slip in a known name is then found, not taken for a new
/// quantity.
inline constexpr std::string_view kOwnNamePrefix = "x_";
/// nullptr when the name is not in the list.
[[nodiscard]] const SignalName* find_signal_name(std::string_view name);

/// Every unit that a file may use.
[[nodiscard]] std::span<const std::string_view> unit_names();
/// Lower-case letters, digits and single underscores; a letter first.
[[nodiscard]] bool is_snake_case(std::string_view text);
/// The entry that the person most likely meant; empty when nothing is near.
[[nodiscard]] std::string_view nearest(std::string_view word, std::span<const std::string_view> list);

}  // namespace sumplog
