#include "core/job/fluid_book.h"

#include <algorithm>
#include <array>
#include <utility>

#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

constexpr std::string_view kReplaces = "replaces";
constexpr std::string_view kPartNotSaid = "not said";

// What runs out or goes in at a stage, unless the person says otherwise.
constexpr std::array<std::pair<std::string_view, std::string_view>, 6> kPartOfStage{
    {{"sample", "sample"},
     {"line opened", "drain"},
     {"exchange", kExchangePart},
     {"drain and parts", "drain"},
     {"refill", "refill"},
     {"level check", kLevelCheckPart}}};

std::string_view part_of(std::string_view stage) {
  for (const auto& [one, part] : kPartOfStage)
    if (one == stage) return part;
  return kPartNotSaid;
}

}  // namespace

bool pours_fluid(const Entry& entry) {
  return entry.name == kFluidAdded || (entry.name == kFluidIn && !text_field(entry, kReplaces));
}

bool FluidBook::on_entry(const Entry& entry, std::string_view stage) {
  if (entry.name != kFluidOut && entry.name != kFluidIn) return false;
  FluidVolume volume;
  volume.id = entry.id;
  volume.at = said_time(entry).value_or(entry.at);
  volume.way = entry.name == kFluidOut ? FluidWay::out : FluidWay::in;
  volume.part = text_field(entry, "part").value_or(std::string(part_of(stage)));
  volume.litres = number_field(entry, "litres");
  volume.mass_kg = number_field(entry, "mass_kg");
  volume.density_kg_per_m3 = number_field(entry, "density_kg_per_m3");
  volume.temp_c = number_field(entry, "temp_c");
  if (const auto replaces = text_field(entry, kReplaces)) {
    const auto old = std::find_if(volumes_.begin(), volumes_.end(),
                                  [&](const FluidVolume& one) { return one.id == *replaces; });
    if (old == volumes_.end()) {
      problems_.push_back("entry " + entry.id + " replaces entry " + *replaces +
                          ", which is no volume in this job: counted as another one");
    } else {
      // It happened when the other did, and where, unless this one says so.
      volume.at = old->at;
      if (!text_field(entry, "part")) volume.part = old->part;
      volumes_.erase(old);
    }
  }
  put(std::move(volume));
  return true;
}

void FluidBook::put(FluidVolume volume) {
  const auto later = std::find_if(volumes_.begin(), volumes_.end(),
                                  [&](const FluidVolume& one) { return one.at > volume.at; });
  volumes_.insert(later, std::move(volume));
}

}  // namespace sumplog
