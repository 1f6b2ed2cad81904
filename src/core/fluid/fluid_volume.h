#pragma once
#include <optional>
#include <string>

#include "core/item/time.h"

namespace sumplog {

enum class FluidWay : std::uint8_t { out, in };

/// A volume or a mass of fluid that a person entered, as it was entered.
struct FluidVolume {
  std::string id;  ///< of the entry
  TimePoint at{};  ///< when it happened, as the person says
  FluidWay way = FluidWay::out;
  std::string part;  ///< "sample", "exchange", "drain", …
  std::optional<double> litres;
  std::optional<double> mass_kg;
  std::optional<double> density_kg_per_m3;  ///< at 15 °C
  std::optional<double> temp_c;
};

inline constexpr std::string_view kExchangePart = "exchange";
inline constexpr std::string_view kLevelCheckPart = "level check";

}  // namespace sumplog
