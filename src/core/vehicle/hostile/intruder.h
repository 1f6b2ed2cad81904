#pragma once
#include <cstdint>
#include <initializer_list>
#include <map>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "core/vehicle/hostile/plan.h"
#include "core/vehicle/node.h"
#include "core/vehicle/random.h"

namespace sumplog::hostile {

/// Whoever is on the bus and should not be: nodes that babble, that answer in the place of others, another tester.
/// As long as the plan is not lying, it speaks as a unit of the vehicle in single frames and in first frames
/// that nobody can follow, and its own messages of several frames keep kLeastBetweenMessages.
class Intruder : public Node {
 public:
  explicit Intruder(const Plan& plan);
  /// Acts of other kinds do nothing here.
  void begin(const Act& act, TimePoint now);

  void on_frame(const CanFrame& frame) override;
  void on_deadline(TimePoint now) override;
  [[nodiscard]] std::optional<TimePoint> deadline() const override;
  [[nodiscard]] std::vector<CanFrame> take_outbox() override { return std::exchange(outbox_, {}); }

 private:
  using Bytes = std::vector<std::uint8_t>;
  void say(TimePoint at, CanId id, Bytes bytes);
  void say_message(TimePoint at, CanId id, const Bytes& payload);
  [[nodiscard]] CanId real_unit();
  [[nodiscard]] CanId ghost();
  [[nodiscard]] CanId stray() const;
  [[nodiscard]] CanId request_to(std::size_t unit) const;
  [[nodiscard]] CanId functional() const;
  [[nodiscard]] bool asks(CanId id) const;
  [[nodiscard]] std::uint8_t any_byte() { return static_cast<std::uint8_t>(random_.next()); }
  [[nodiscard]] Bytes noise(std::size_t count);
  [[nodiscard]] Duration within(Duration most);

  void flood(TimePoint now);
  void giants(TimePoint now);
  void strays(TimePoint now);
  void odd_frames(TimePoint now);
  void remote_frames(TimePoint now);
  void many_transfers(TimePoint now);
  void announcements(TimePoint now);
  void ask(TimePoint now);
  void answer_as_ghost(const Bytes& request, TimePoint now);

  BusName bus_;
  bool lying_;
  bool extended_;
  bool j1939_;
  std::vector<CanId> units_;     ///< of the vehicle, as they answer
  std::vector<CanId> requests_;  ///< to them
  Random random_;
  std::multimap<TimePoint, CanFrame> planned_;
  std::map<CanId, TimePoint> busy_until_;  ///< ghosts in the middle of a message
  TimePoint ghosts_until_ = TimePoint::min();
  TimePoint pending_until_ = TimePoint::min();
  TimePoint tester_until_ = TimePoint::min();
  std::optional<TimePoint> next_ask_;
  std::vector<CanFrame> outbox_;
};

}  // namespace sumplog::hostile
