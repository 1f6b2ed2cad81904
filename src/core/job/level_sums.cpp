#include "core/job/level_sums.h"

#include "core/fluid/level_error.h"
#include "core/item/json_line.h"

namespace sumplog {

std::optional<LevelSumsEvent> level_sums(TimePoint now, Celsius plug_in, const TemperatureWindow& window,
                                         const ServiceFile& service) {
  if (!service.fill_l) return std::nullopt;
  std::optional<DensityAt15> density;
  if (service.density_kg_per_m3) density = DensityAt15{service.density_kg_per_m3->value};
  const auto error = level_error(service.fill_l->value, plug_in, window, density);
  if (!error) return std::nullopt;
  LevelSumsEvent sums{
      now, plug_in.value, error->edge.value, service.fill_l->value, error->ml_per_degree, error->short_ml,
      {}};
  sums.assumes.push_back(density ? "density " + fixed(density->kg_per_m3, 0) + " kg/m³ at 15 °C"
                                 : "density " + fixed(kAssumedDensity.kg_per_m3, 0) + " ± " +
                                       fixed(kDensityRange.kg_per_m3, 0) + " kg/m³ at 15 °C, nobody said");
  return sums;
}

}  // namespace sumplog
