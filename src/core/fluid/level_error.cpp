#include "core/fluid/level_error.h"

#include <algorithm>
#include <cassert>

namespace sumplog {
namespace {

constexpr double kCaseExpansion = 3 * 23e-6;  // of a volume in aluminium, 1/°C, from memory
constexpr double kMillilitres = 1000;         // in a litre

}  // namespace

std::optional<LevelError> level_error(double fill_l, Celsius plug_in, const TemperatureWindow& window,
                                      std::optional<DensityAt15> density) {
  if (plug_in >= window.low && plug_in <= window.high) return std::nullopt;
  const DensityAt15 likely = density.value_or(kAssumedDensity);
  const double range = density ? 0 : kDensityRange.kg_per_m3;
  LevelError out;
  out.edge = plug_in > window.high ? window.high : window.low;
  const auto more_ml = [&](double rho, double case_expansion) -> std::optional<double> {
    const auto grown = volume_at(fill_l, out.edge, plug_in, {rho});
    if (!grown) return std::nullopt;
    return (*grown - fill_l * (1 + case_expansion * (plug_in - out.edge).value)) * kMillilitres;
  };
  const auto per_degree = millilitres_per_degree(fill_l, out.edge, likely);
  const auto middle = more_ml(likely.kg_per_m3, 0);
  const auto least = more_ml(likely.kg_per_m3 + range, kCaseExpansion);
  const auto most = more_ml(likely.kg_per_m3 - range, 0);
  if (!per_degree || !middle) return std::nullopt;
  assert(least && most && "the range is that of the assumed density, far inside of the formula's limits");
  out.ml_per_degree = *per_degree;
  out.short_ml = {std::min(*least, *most), *middle, std::max(*least, *most)};
  return out;
}

}  // namespace sumplog
