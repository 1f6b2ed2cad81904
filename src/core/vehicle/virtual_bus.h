#pragma once
#include <deque>
#include <optional>
#include <utility>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"
#include "core/vehicle/node.h"
#include "core/vehicle/wire_time.h"

namespace sumplog {

/// A CAN bus in virtual time: joins nodes in one process and decides who sends next. A frame is heard by all
/// connected nodes, its sender included, when its last bit has passed; frame.at is then that time. Deadlines
/// that are due at the same time as the end of a frame fire first, in the order of attachment. Not simulated:
/// acknowledge, errors, stuff bits.
class VirtualBus {
 public:
  VirtualBus(BusName name, BitRates rates, TimePoint start);

  /// The node is not owned and must outlive the bus.
  void attach(Node& node);
  /// A node that is not connected hears nothing, and what it sends is lost. Its deadlines go on.
  void set_connected(Node& node, bool connected);

  [[nodiscard]] TimePoint now() const { return now_; }
  /// When something happens next: a deadline, or the end of the frame on the wire. Nothing: the bus sleeps
  /// for ever.
  [[nodiscard]] std::optional<TimePoint> next_event() const;
  /// Lets everything happen that is due at or before `end`; then it is `end`.
  void run_until(TimePoint end);
  /// Sends what the nodes put into their outboxes meanwhile, for example after a person's call to one of
  /// them.
  void collect();

  /// Every frame that has passed since the last call, in order.
  [[nodiscard]] std::vector<CanFrame> take_frames() { return std::exchange(passed_, {}); }

 private:
  struct Station {
    Node* node = nullptr;
    bool connected = true;
    std::deque<CanFrame> waiting;  ///< frames of one identifier keep their order, others overtake them
  };
  void fire(TimePoint at);
  void deliver();
  void arbitrate();
  [[nodiscard]] std::optional<TimePoint> next_deadline() const;

  BusName name_;
  BitRates rates_;
  TimePoint now_;
  std::vector<Station> stations_;
  std::optional<CanFrame> on_wire_;  ///< its `at` is the end of its last bit
  std::vector<CanFrame> passed_;
};

/// A node without a will of its own: tests and the `demo` put frames in and take heard frames out.
class BusPort : public Node {
 public:
  void send(const CanFrame& frame) { outbox_.push_back(frame); }
  [[nodiscard]] std::vector<CanFrame> take_heard() { return std::exchange(heard_, {}); }

  void on_frame(const CanFrame& frame) override { heard_.push_back(frame); }
  void on_deadline(TimePoint) override {}
  [[nodiscard]] std::optional<TimePoint> deadline() const override { return std::nullopt; }
  [[nodiscard]] std::vector<CanFrame> take_outbox() override { return std::exchange(outbox_, {}); }

 private:
  std::vector<CanFrame> outbox_;
  std::vector<CanFrame> heard_;
};

}  // namespace sumplog
