#pragma once
#include <optional>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

/// Something that is connected to a CAN bus: a vehicle, a tester. Sans I/O: whoever drives it brings frames
/// and time, and sends what lies in the outbox.
class Node {
 public:
  Node() = default;
  Node(const Node&) = delete;
  Node& operator=(const Node&) = delete;
  virtual ~Node() = default;

  /// Every frame on the bus, the echo of its own included. Deadlines ≤ frame.at were fired before.
  virtual void on_frame(const CanFrame& frame) = 0;
  /// Fires everything that is due at or before `now`; afterwards deadline() is later than `now`.
  virtual void on_deadline(TimePoint now) = 0;
  [[nodiscard]] virtual std::optional<TimePoint> deadline() const = 0;
  /// Frames to send now, in order; empties the outbox. To be asked after each on_frame and on_deadline.
  [[nodiscard]] virtual std::vector<CanFrame> take_outbox() = 0;
};

}  // namespace sumplog
