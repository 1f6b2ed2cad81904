#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "core/item/item.h"
#include "core/vehicle/hostile/plan.h"
#include "core/vehicle/random.h"

namespace sumplog::hostile {

/// What lies between the bus and our adapter, one way and the other: loses, doubles, delays, reorders, cuts,
/// changes. Frames of a message of several frames keep within kMostLateInMessage of their place.
class Line {
 public:
  explicit Line(const Plan& plan);

  /// A frame that passed on the bus while our adapter was there.
  void on_frame(const CanFrame& frame, TimePoint now);
  /// What our adapter hears up to `now`, in order, with the times that it gives them.
  [[nodiscard]] std::vector<Item> take(TimePoint now);
  [[nodiscard]] std::optional<TimePoint> deadline() const;
  /// The adapter went away: what was on its way to us is gone.
  void drop() { on_way_.clear(); }

  enum class Sending : std::uint8_t { passes, refused, vanishes, held };
  /// What becomes of a frame that we hand to the socket; while the line is calm it passes.
  [[nodiscard]] Sending send(TimePoint now);
  /// How long a held frame is kept.
  [[nodiscard]] Duration holding_time();
  /// Whether the units miss a frame of ours.
  [[nodiscard]] bool unheard(TimePoint now);

  /// Frames that came to be on the bus only here: single frames under another identifier.
  [[nodiscard]] const std::vector<CanFrame>& misplaced() const { return misplaced_; }
  /// Frames that the kernel counted as dropped.
  [[nodiscard]] std::uint64_t overrun() const { return overrun_; }

 private:
  [[nodiscard]] bool calm(TimePoint now) const { return now >= calm_from_; }
  [[nodiscard]] bool happens(std::uint32_t in_a_million) { return random_.below(1'000'000) < in_a_million; }
  [[nodiscard]] Duration within(Duration most);
  [[nodiscard]] CanId other_unit(const CanFrame& frame);
  void change(CanFrame& frame);
  void put(TimePoint due, const CanFrame& frame);

  FrameFaults faults_;
  TimePoint calm_from_;
  BusName bus_;
  std::vector<CanId> units_;
  Random random_;
  std::multimap<TimePoint, CanFrame> on_way_;
  TimePoint stalled_until_ = TimePoint::min();
  std::vector<CanFrame> misplaced_;
  std::uint64_t overrun_ = 0;
  std::uint64_t overrun_said_ = 0;
};

/// True when the frame is part of a message of several frames on a diagnostic identifier.
[[nodiscard]] bool part_of_a_message(const CanFrame& frame);

}  // namespace sumplog::hostile
