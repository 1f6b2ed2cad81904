#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/fluid/fluid_volume.h"
#include "core/item/item.h"

namespace sumplog {

/// The volumes of a job as they were entered, with their corrections, in the order in which they happened.
class FluidBook {
 public:
  /// Takes `fluid_out` and `fluid_in`; of another entry it says nothing.
  /// in   stage  the one that is open; empty: none. It gives the part where the entry names none.
  /// out  the entry was one of the two
  bool on_entry(const Entry& entry, std::string_view stage);

  [[nodiscard]] const std::vector<FluidVolume>& volumes() const { return volumes_; }
  /// Corrections of entries that are not there: each then counts as another volume.
  [[nodiscard]] const std::vector<std::string>& problems() const { return problems_; }

 private:
  void put(FluidVolume volume);

  std::vector<FluidVolume> volumes_;
  std::vector<std::string> problems_;
};

/// Whether fluid was poured in by what the entry tells; a correction of an earlier entry tells nothing new.
[[nodiscard]] bool pours_fluid(const Entry& entry);

}  // namespace sumplog
