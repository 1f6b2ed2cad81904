#pragma once
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/asker/live_job.h"
#include "core/item/item.h"
#include "core/job/kept_frames.h"
#include "core/vehicle/hostile/intruder.h"
#include "core/vehicle/hostile/line.h"
#include "core/vehicle/hostile/plan.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog::hostile {

/// A frame that the guard let out, whether or not the bus took it.
struct Sent {
  CanFrame frame;         ///< `at`: when
  std::size_t after = 0;  ///< how many items were written before
};

/// Everything that a hostile job left behind, for those who judge it.
struct Trace {
  std::vector<CanFrame> wire;  ///< all frames that were on the bus, whoever sent them; by time
  std::vector<Sent> sent;
  std::vector<Item> items;  ///< as they were written, the opening and the end too
  std::vector<std::string> journal;
  std::vector<TimePoint> said_at;  ///< for each line: time of the bus when it was said
};

/// How a test looks at the memory of the core: told when the core begins and ends to work.
struct MemoryWatch {
  std::function<void()> enter = [] {};
  std::function<void()> leave = [] {};
};

/// The decoders that a hostile job uses, and a service file: what opening items hold.
/// in   texts  at least those of obd-generic, demo-9 (with its service file) and j1939-transmission
[[nodiscard]] std::vector<Item> opening_of(const Plan& plan, const std::vector<DecoderText>& texts);

/// A live job on a hostile bus: the same LiveJob that a CAN socket feeds, driven as the daemon drives it.
class Job {
 public:
  /// Writes an item and gives back what its lines read to.
  using Record = std::function<Result<Item>(const Item&)>;

  /// in   header  the opening items as they were written
  Job(const Plan& plan, std::vector<Item> header, Record record, MemoryWatch memory = {});

  /// Runs to the end of the plan. The `end` item is not recorded here: closing the job file does that.
  /// err  recording failed, or time stood still
  [[nodiscard]] Result<void> run();
  /// The `end` as it was written.
  void on_closed(const Item& end);
  [[nodiscard]] TimePoint now() const { return bus_.now(); }
  [[nodiscard]] Trace& trace() { return trace_; }

 private:
  /// The vehicle, hard of hearing.
  class HardOfHearing : public Node {
   public:
    HardOfHearing(Vehicle& vehicle, Line& line) : vehicle_(vehicle), line_(line) {}
    void on_frame(const CanFrame& frame) override;
    void on_deadline(TimePoint now) override { vehicle_.on_deadline(now); }
    [[nodiscard]] std::optional<TimePoint> deadline() const override { return vehicle_.deadline(); }
    [[nodiscard]] std::vector<CanFrame> take_outbox() override { return vehicle_.take_outbox(); }

   private:
    Vehicle& vehicle_;
    Line& line_;
  };

  [[nodiscard]] TimePoint next_event() const;
  [[nodiscard]] Result<void> step();
  [[nodiscard]] Result<void> act(const Act& act);
  [[nodiscard]] Result<void> change_link(LinkState state);
  [[nodiscard]] Result<void> error_frame(std::uint32_t classes);
  [[nodiscard]] Result<void> restart();
  [[nodiscard]] Result<void> record(const Item& item);
  [[nodiscard]] Result<void> carry_out(LiveOutput&& out);
  void send(const GuardedFrame& frame);

  Plan plan_;
  TimePoint start_;
  TimePoint end_;
  std::vector<Decoder> decoders_;
  KeptFrames kept_;
  Vehicle vehicle_;
  Line line_;
  HardOfHearing hearing_;
  Intruder intruder_;
  BusPort port_;
  VirtualBus bus_;
  std::optional<LiveJob> live_;
  Record record_;
  MemoryWatch memory_;
  Trace trace_;
  std::size_t next_act_ = 0;
  std::multimap<TimePoint, CanFrame> held_;  ///< in our controller
  std::optional<TimePoint> link_back_;
  bool link_up_ = true;
  std::size_t misplaced_seen_ = 0;
  TimePoint last_step_ = TimePoint::min();
  int steps_at_once_ = 0;
};

}  // namespace sumplog::hostile
