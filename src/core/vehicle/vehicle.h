#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/isotp/transport.h"
#include "core/vehicle/broadcaster.h"
#include "core/vehicle/control_unit.h"
#include "core/vehicle/drivetrain.h"
#include "core/vehicle/node.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// The simulated vehicle: a drivetrain, its control units and what it broadcasts. Nothing that a tester sends
/// changes anything in it.
class Vehicle : public Node {
 public:
  /// in  start  when the scenario begins; its events are counted from here. Frames carry scenario.bus.
  Vehicle(const Scenario& scenario, TimePoint start);

  void on_frame(const CanFrame& frame) override;
  void on_deadline(TimePoint now) override;
  [[nodiscard]] std::optional<TimePoint> deadline() const override;
  [[nodiscard]] std::vector<CanFrame> take_outbox() override;

  /// Requests heard, whoever they were meant for, whose service does more than read. A well-behaved tester
  /// leaves it at 0.
  [[nodiscard]] std::uint64_t forbidden_requests() const { return forbidden_requests_; }
  /// Requests heard of each service.
  [[nodiscard]] const std::map<std::uint8_t, std::uint64_t>& requests() const { return requests_; }
  /// The truth at the time of the last frame or deadline.
  [[nodiscard]] const Drivetrain& drivetrain() const { return drivetrain_; }
  [[nodiscard]] const std::vector<ControlUnit>& units() const { return units_; }

 private:
  void fire_events(TimePoint now);
  void on_message(const Message& message);
  void collect();

  std::vector<ScenarioEvent> events_;  ///< those of the vehicle and its units
  std::size_t next_event_ = 0;
  TimePoint start_;
  Endpoint functional_;
  Drivetrain drivetrain_;
  std::vector<ControlUnit> units_;
  Broadcaster broadcaster_;
  Transport others_;  ///< requests to all units, and to units that are not there
  std::uint64_t forbidden_requests_ = 0;
  std::map<std::uint8_t, std::uint64_t> requests_;
  std::vector<CanFrame> outbox_;
};

}  // namespace sumplog
