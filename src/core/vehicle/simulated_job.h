#pragma once
#include <deque>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include "core/asker/live_job.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "core/vehicle/scenario.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog {

/// A whole live job on the simulated vehicle in virtual time: the same LiveJob that a CAN socket feeds, on an in-process bus.
class SimulatedJob {
 public:
  /// Writes an item and gives back what its lines read to.
  using Record = std::function<Result<Item>(const Item&)>;

  /// in   header  the opening items as they were written
  ///      asking  nothing: as serve does without --rate; its bus is that of the scenario
  SimulatedJob(const Scenario& scenario, TimePoint start, const std::vector<Item>& header, Record record,
               const std::optional<AskerSettings>& asking = std::nullopt);

  /// Goes on to the next thing that happens and appends what the journal says.
  /// out  false: the scenario is over
  /// err  recording failed
  [[nodiscard]] Result<bool> step(std::vector<Event>& events);
  [[nodiscard]] TimePoint now() const { return bus_.now(); }
  [[nodiscard]] TimePoint end() const { return end_; }
  [[nodiscard]] const Vehicle& vehicle() const { return vehicle_; }
  [[nodiscard]] const LiveJob& live() const { return live_; }
  /// Something a person did.
  [[nodiscard]] Result<void> enter(const Entry& entry, std::vector<Event>& events);
  /// The journal of an `end` that was recorded elsewhere (closing the job file records it).
  void on_closed(const Item& end, std::vector<Event>& events);

 private:
  [[nodiscard]] Result<void> record(const Item& item, std::vector<Event>& events);
  [[nodiscard]] Result<void> carry_out(LiveOutput&& out, std::vector<Event>& events);
  [[nodiscard]] Result<void> enter_what_is_due(std::vector<Event>& events);
  [[nodiscard]] Result<void> apply(const TesterChange& change, std::vector<Event>& events);

  TimePoint end_;
  BusName name_;
  Vehicle vehicle_;
  BusPort port_;
  VirtualBus bus_;
  std::deque<std::pair<TimePoint, TesterChange>> changes_;
  std::deque<Entry> entries_;  ///< of the scenario, still to come
  LiveJob live_;
  Record record_;
};

}  // namespace sumplog
