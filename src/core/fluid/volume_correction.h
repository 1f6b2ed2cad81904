#pragma once
#include <optional>

#include "core/thermal/temperature.h"

namespace sumplog {

/// Density of an oil at 15 °C. Where nobody knows it: kAssumedDensity, and say so.
struct DensityAt15 {
  double kg_per_m3 = 0;
};
/// Automatic transmission fluids lie about here; ± 15 kg/m³ (common practice, no source).
inline constexpr DensityAt15 kAssumedDensity{850};
inline constexpr DensityAt15 kDensityRange{15};  ///< to both sides of it

/// Factor from a volume at `at` to the volume of the same mass at 15 °C.
/// in   density  800…1164 kg/m³ · at  −50…150 °C
/// out  nothing outside of these limits
/// src  API MPMS 11.1 / ASTM D1250, lubricating oils (Table 54D): exp(−αΔ(1 + 0.8 αΔ)), α = 0.6278/ρ15
[[nodiscard]] std::optional<double> volume_factor(DensityAt15 density, Celsius at);

/// The volume that a volume has at another temperature. out  nothing outside the limits of volume_factor
[[nodiscard]] std::optional<double> volume_at(double litres, Celsius at, Celsius wanted, DensityAt15 density);

/// By how much a fill grows for each degree, in millilitres: what a level that is checked one degree too warm
/// falls short of later. The case grows too, by about a tenth of it; that is left out.
[[nodiscard]] std::optional<double> millilitres_per_degree(double fill_l, Celsius at, DensityAt15 density);

}  // namespace sumplog
