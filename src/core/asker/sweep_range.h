#pragma once
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/isotp/message.h"
#include "core/item/frame.h"
#include "core/item/result.h"

namespace sumplog {

/// Identifiers of one unit that a person wants asked, one after the other.
struct SweepRange {
  CanId request{};                      ///< where the unit is asked
  std::optional<std::uint8_t> address;  ///< address byte of extended or mixed addressing
  std::uint8_t service = 0;             ///< 22 (two bytes) or 21 (one)
  std::uint16_t first = 0;
  std::uint16_t last = 0;  ///< included; not below `first`

  [[nodiscard]] Endpoint unit(BusName bus) const { return {bus, request, address}; }
  [[nodiscard]] std::size_t size() const { return std::size_t{last} - first + 1; }
  friend bool operator==(const SweepRange&, const SweepRange&) = default;
};

/// Reads "7E1:1A00-1AFF" (data identifiers, four digits), "7E1:00-FF" (local identifiers, two digits) or one identifier,
/// "7E1:1A05"; a unit with an address byte is "6F1/12".
/// err  not of that form · not an identifier on which one unit may be asked · the last one before the first
[[nodiscard]] Result<SweepRange> parse_sweep_range(std::string_view text);

/// The same the other way, always with a first and a last one.
[[nodiscard]] std::string text_of(const SweepRange& range);
[[nodiscard]] std::string text_of(const std::vector<SweepRange>& ranges);

}  // namespace sumplog
