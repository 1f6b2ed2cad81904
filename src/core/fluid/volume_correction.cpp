#include "core/fluid/volume_correction.h"

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// API MPMS 11.1, lubricating oils at 15 °C.
constexpr double kK1 = 0.6278;
constexpr double kSecondOrder = 0.8;
constexpr double kReference_c = 15;
constexpr double kLeastDensity = 800;
constexpr double kMostDensity = 1164;
constexpr double kColdest_c = -50;
constexpr double kHottest_c = 150;
constexpr double kMillilitres = 1000;  // in a litre

}  // namespace

std::optional<double> volume_factor(DensityAt15 density, Celsius at) {
  const double rho = density.kg_per_m3;
  if (!(rho >= kLeastDensity && rho <= kMostDensity) || !(at.value >= kColdest_c && at.value <= kHottest_c))
    return std::nullopt;
  const double expansion = kK1 / rho * (at.value - kReference_c);
  return exp_of(-expansion * (1 + kSecondOrder * expansion));
}

std::optional<double> volume_at(double litres, Celsius at, Celsius wanted, DensityAt15 density) {
  const auto here = volume_factor(density, at);
  const auto there = volume_factor(density, wanted);
  if (!here || !there) return std::nullopt;
  return litres * *here / *there;
}

std::optional<double> millilitres_per_degree(double fill_l, Celsius at, DensityAt15 density) {
  constexpr CelsiusDifference kHalf{0.5};
  const auto warmer = volume_at(fill_l, at, at + kHalf, density);
  const auto colder = volume_at(fill_l, at, at - kHalf, density);
  if (!warmer || !colder) return std::nullopt;
  return (*warmer - *colder) * kMillilitres;
}

}  // namespace sumplog
