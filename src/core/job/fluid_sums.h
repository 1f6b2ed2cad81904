#pragma once
#include <optional>
#include <string_view>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/fluid/imbalance.h"
#include "core/item/item.h"
#include "core/job/fluid_book.h"
#include "core/journal/event.h"

namespace sumplog {

/// What came out, what went in, what must go back, how much of it is new: told after each entry that changes it. Calls when an
/// exchange takes out more than it puts in, and when it begins with the thermal bypass shut.
class FluidSums {
 public:
  explicit FluidSums(std::optional<ServiceFile> service);

  /// in   stage  the one that is open; empty: none
  void on_entry(const Entry& entry, std::string_view stage);
  /// How warm the fluid is, as far as it is believed.
  void on_thermal(const ThermalEvent& thermal) { fluid_c_ = thermal.temp_c; }
  /// Says what is due. Call after everything that happened at `now`.
  void update(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<TimePoint> deadline() const { return imbalance_.deadline(); }

 private:
  void count(bool exchange_news, TimePoint now);
  void say_flow(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<DensityAt15> said_density() const;
  [[nodiscard]] BalanceEvent balance(TimePoint now) const;

  std::optional<ServiceFile> service_;
  FluidBook book_;
  CountedVolumes counted_;
  Imbalance imbalance_;
  std::optional<double> wanted_share_;
  bool wanted_wrong_ = false;  ///< the last one that was entered is no share
  std::optional<double> fluid_c_;
  bool balance_due_ = false;
  bool exchange_due_ = false;
  bool flow_awaited_ = false;  ///< a line was opened, and nobody has looked yet whether fluid will flow
};

}  // namespace sumplog
