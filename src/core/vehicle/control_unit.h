#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/isotp/receiver.h"
#include "core/isotp/sender.h"
#include "core/item/frame.h"
#include "core/item/time.h"
#include "core/vehicle/drivetrain.h"
#include "core/vehicle/fault_memory.h"
#include "core/vehicle/random.h"
#include "core/vehicle/scenario.h"

namespace sumplog {

/// One control unit of the simulated vehicle: takes whole requests, says its answers frame by frame. One
/// request at a time: what comes while an answer is prepared or sent is ignored, as a unit of half-duplex ISO
/// 15765-2 does.
class ControlUnit {
 public:
  /// in  index  position of the unit in the scenario; makes its jitter differ from that of the others
  ControlUnit(const Scenario& scenario, std::size_t index);

  [[nodiscard]] Endpoint request_endpoint() const;

  void on_request(std::span<const std::uint8_t> request, bool functional, TimePoint at);
  /// Flow control for what it is sending, and requests to it alone; every other frame does nothing.
  /// out  a whole request, which the owner then brings to on_request
  [[nodiscard]] std::optional<Message> on_frame(const CanFrame& frame);
  /// One step: the answer, a pending response, or the next consecutive frame. The drivetrain stands at `now`.
  /// Call it when deadline() has come.
  void on_deadline(TimePoint now, const Drivetrain& drivetrain);
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  /// The vehicle stands as it does at the start of the scenario.
  void begin(const Drivetrain& drivetrain) { memory_.begin(drivetrain); }
  void apply(const UnitChange& change, TimePoint now, const Drivetrain& drivetrain);
  void apply(const CodesCleared& change, const Drivetrain& drivetrain) { memory_.apply(change, drivetrain); }
  [[nodiscard]] std::vector<CanFrame> take_outbox() { return std::exchange(outbox_, {}); }

  /// False while the unit is silent, or starts anew: it hears nothing then.
  [[nodiscard]] bool listens(TimePoint now) const { return !silent_ && now >= deaf_until_; }
  /// Requests that came while it was busy.
  [[nodiscard]] std::uint64_t ignored_while_busy() const { return ignored_while_busy_; }

 private:
  struct Prepared {
    std::vector<std::uint8_t> request;
    bool functional = false;
    TimePoint due{};
    int pending_left = 0;
    Duration pending_every{};
  };
  void emit(const SenderStep& step, TimePoint now);
  void abandon();

  UnitPlan plan_;
  FaultMemory memory_;
  std::string vin_;
  BusName bus_;
  Random random_;
  SenderConfig sender_config_;
  Sender sender_;
  Receiver receiver_;
  std::optional<Prepared> prepared_;
  std::optional<PendingAnswers> pending_;
  std::optional<LostConsecutive> loses_;
  std::optional<int> lose_index_;  ///< of the running message
  int consecutive_ = 0;            ///< consecutive frames of the running message so far
  TimePoint not_before_{};         ///< the next consecutive frame
  bool silent_ = false;
  TimePoint deaf_until_{};
  std::uint64_t ignored_while_busy_ = 0;
  std::vector<CanFrame> outbox_;
};

}  // namespace sumplog
