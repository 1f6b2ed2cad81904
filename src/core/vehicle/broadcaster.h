#pragma once
#include <deque>
#include <optional>
#include <utility>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"
#include "core/vehicle/drivetrain.h"
#include "core/vehicle/j1939_groups.h"
#include "core/vehicle/j1939_memory.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// What the vehicle says without being asked, each at its period: SAE J1939 groups and other traffic. Also
/// answers the SAE J1939 request for a group (PGN 59904), where the group is one that it broadcasts.
class Broadcaster {
 public:
  Broadcaster(const Scenario& scenario, TimePoint start);

  void on_frame(const CanFrame& frame, const Drivetrain& drivetrain);
  /// Everything that is due at or before `now`. The drivetrain stands at `now`.
  void on_deadline(TimePoint now, const Drivetrain& drivetrain);
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  void apply(const J1939CodeChange& change) { memory_.apply(change); }
  void apply(const CodesCleared& change) { memory_.apply(change); }
  [[nodiscard]] std::vector<CanFrame> take_outbox() { return std::exchange(outbox_, {}); }

 private:
  struct Group {
    std::optional<BroadcastGroup> group;  ///< absent: DM1 or DM2
    std::uint32_t pgn = 0;
    unsigned priority = 0;
    std::uint8_t source = 0;
    Duration period{};  ///< zero: only on request
    TimePoint next{};
  };
  struct Background {
    BackgroundPlan plan;
    TimePoint next{};
    std::uint64_t counter = 0;
  };
  void broadcast(const Group& group, TimePoint now, const Drivetrain& drivetrain);

  BusName bus_;
  std::string vin_;
  J1939Memory memory_;
  std::vector<Group> groups_;
  std::vector<Background> background_;
  std::deque<std::pair<TimePoint, CanFrame>> packets_;  ///< of announced messages, by time
  std::vector<CanFrame> outbox_;
};

}  // namespace sumplog
