#include "core/vehicle/quantity.h"

#include <array>

namespace sumplog {
namespace {

constexpr std::array<std::string_view, 14> kQuantityNames{
    "fluid_temperature",   "coolant_temperature", "engine_oil_temperature", "intake_air_temperature",
    "ambient_temperature", "engine_speed",        "vehicle_speed",          "engine_load",
    "throttle_position",   "module_voltage",      "engine_run_time",        "odometer",
    "selector_position",   "actual_gear"};
static_assert(kQuantityNames.size() == static_cast<std::size_t>(Quantity::actual_gear) + 1);

constexpr std::array<std::string_view, 4> kSelectorNames{"P", "R", "N", "D"};
static_assert(kSelectorNames.size() == static_cast<std::size_t>(SelectorPosition::drive) + 1);

}  // namespace

std::span<const std::string_view> quantity_names() {
  return kQuantityNames;
}
std::span<const std::string_view> selector_names() {
  return kSelectorNames;
}

}  // namespace sumplog
