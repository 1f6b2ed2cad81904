#include "core/fluid/balance.h"

#include <algorithm>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr double kMost =
    200;  // litres, or kilograms: no passenger car and no lorry holds so much; own choice
constexpr double kLitres = 1000;  // in a cubic metre

bool is_amount(std::optional<double> amount) {
  return amount && *amount >= 0 && *amount <= kMost;
}

bool is_density(DensityAt15 density) {
  return volume_factor(density, kBalanceReference).has_value();
}

bool is_temperature(Celsius at) {
  return volume_factor(kAssumedDensity, at).has_value();
}

std::string volumes_text(std::size_t count) {
  return std::to_string(count) + (count == 1 ? " volume" : " volumes");
}

std::string density_text(DensityAt15 density) {
  return "density " + fixed(density.kg_per_m3, 0);
}

/// Density of what was entered: its own, where that is one.
DensityAt15 density_of(const FluidVolume& volume, DensityAt15 otherwise) {
  const DensityAt15 own{volume.density_kg_per_m3.value_or(0)};
  return is_density(own) ? own : otherwise;
}

class Counting {
 public:
  explicit Counting(std::optional<DensityAt15> said)
      : density_(said.value_or(kAssumedDensity)), said_(said) {}

  void add(const FluidVolume& one) {
    const DensityAt15 density = density_of(one, density_);
    if (one.density_kg_per_m3) count_density(one, density);
    std::optional<double> litres;
    if (is_amount(one.litres))
      litres = from_litres(one, density);
    else if (is_amount(one.mass_kg))
      litres = volume_at(*one.mass_kg / density.kg_per_m3 * kLitres, Celsius{15}, kBalanceReference, density);
    if (litres)
      out_.volumes.push_back({one.way, one.part, *litres});
    else
      leave_out(one);
  }

  CountedVolumes take() {
    if (without_temperature_ > 0)
      out_.assumes.push_back(volumes_text(without_temperature_) +
                             " without a temperature: taken as measured");
    out_.assumes.push_back(said_ ? density_text(*said_) + " kg/m³ at 15 °C"
                                 : density_text(kAssumedDensity) + " ± " + fixed(kDensityRange.kg_per_m3, 0) +
                                       " kg/m³ at 15 °C, nobody said");
    if (own_density_ > 0)
      out_.assumes.push_back(volumes_text(own_density_) + " with a density of its own, as entered");
    return std::move(out_);
  }

 private:
  std::optional<double> from_litres(const FluidVolume& one, DensityAt15 density) {
    if (!one.temp_c) {
      ++without_temperature_;
      return one.litres;
    }
    const auto litres = volume_at(*one.litres, Celsius{*one.temp_c}, kBalanceReference, density);
    if (!litres)
      out_.assumes.push_back(name_of(one) + " is taken as measured: " + fixed(*one.temp_c, 0) +
                             " °C is no temperature from -50 to 150 °C");
    return litres ? litres : one.litres;
  }

  void count_density(const FluidVolume& one, DensityAt15 used) {
    if (used.kg_per_m3 == *one.density_kg_per_m3)
      ++own_density_;
    else
      out_.assumes.push_back("the density of " + name_of(one) + " is not used: " +
                             fixed(*one.density_kg_per_m3, 0) + " is not from 800 to 1164 kg/m³");
  }

  void leave_out(const FluidVolume& one) {
    const auto amount = one.litres ? one.litres : one.mass_kg;
    out_.assumes.push_back(
        name_of(one) + " is not counted: " +
        (amount ? fixed(*amount, 2) + " is not from 0 to 200" : "neither litres nor mass"));
  }

  static std::string name_of(const FluidVolume& one) {
    return "entry " + one.id + " (fluid " + (one.way == FluidWay::out ? "out)" : "in)");
  }

  DensityAt15 density_;
  std::optional<DensityAt15> said_;
  CountedVolumes out_;
  std::size_t without_temperature_ = 0;
  std::size_t own_density_ = 0;
};

BalanceEvent::Part& part_of(BalanceEvent& balance, const std::string& name) {
  for (BalanceEvent::Part& part : balance.parts)
    if (part.part == name) return part;
  balance.parts.push_back({name, 0, 0});
  return balance.parts.back();
}

}  // namespace

CountedVolumes counted(const std::vector<FluidVolume>& volumes, std::optional<DensityAt15> said) {
  Counting counting(said);
  for (const FluidVolume& one : volumes) counting.add(one);
  return counting.take();
}

BalanceEvent balance_of(const std::vector<FluidVolume>& entered, const CountedVolumes& counted,
                        std::optional<DensityAt15> said) {
  DensityAt15 fresh_density = said.value_or(kAssumedDensity);
  BalanceEvent out;
  out.reference_c = kBalanceReference.value;
  out.density_kg_per_m3 = fresh_density.kg_per_m3;
  out.assumes = counted.assumes;
  double missing_l = 0;
  bool since_check = false;  // any volume after the last level check
  for (const CountedVolume& one : counted.volumes) {
    const bool went_in = one.way == FluidWay::in;
    BalanceEvent::Part& part = part_of(out, one.part);
    (went_in ? out.in_l : out.out_l) += one.litres;
    (went_in ? part.in_l : part.out_l) += one.litres;
    if (one.part == kLevelCheckPart)
      missing_l = 0;
    else
      missing_l += went_in ? -one.litres : one.litres;
    since_check = one.part != kLevelCheckPart;
  }
  if (!since_check) return out;

  for (const FluidVolume& one : entered) {
    if (one.way != FluidWay::in) continue;
    fresh_density = density_of(one, fresh_density);
    if (one.temp_c && is_temperature(Celsius{*one.temp_c})) out.fresh_c = one.temp_c;
  }
  if (!out.fresh_c) {
    out.fresh_c = kBalanceReference.value;
    out.assumes.push_back(fixed(kBalanceReference.value, 0) + " °C for the fluid that goes in, nobody said");
  }
  out.to_refill_l = volume_at(missing_l, kBalanceReference, Celsius{*out.fresh_c}, fresh_density);
  out.assumes.emplace_back("the level was right before");
  return out;
}

}  // namespace sumplog
