#pragma once
#include <optional>

#include "core/item/time.h"

namespace sumplog {

/// Whether anybody is there to be asked. With the ignition off nothing must be sent: a request can keep a
/// gateway awake and empty the battery. No bus says "ignition off", so it is taken from what is seen:
///
///   the ignition counts as off     no unit has answered for 10 s and three requests, and nothing of the
///                                  vehicle's own is heard either; for 60 s while it is still heard;
///                                  for 120 s when no unit has ever answered (the key may not be in yet)
///   it counts as on again          a frame of the vehicle's own after 2 s of quiet, or any unit's answer
///
/// Behind a gateway a vehicle never speaks by itself on this connector. Such a one gets a look now and then
/// (one 01 00): after 10 s, 20 s, 40 s and then once a minute, for half an hour. A vehicle that was heard
/// speaking and has fallen quiet gets none.
/// src  own choices, all of them
class Presence {
 public:
  explicit Presence(TimePoint start);

  /// A frame that is neither ours nor an answer or a request of diagnostics.
  void on_own_frame(TimePoint at);
  void on_answer(TimePoint at);
  /// A request that brought nothing, whether it was not acknowledged or not answered.
  void on_nothing(TimePoint at);
  /// The link is up again, or a person asks: the past says nothing about now.
  void begin_anew(TimePoint at);

  [[nodiscard]] bool off() const { return off_since_.has_value(); }
  /// When take_look() is wanted; nothing while the ignition counts as on, and after half an hour.
  [[nodiscard]] std::optional<TimePoint> next_look() const;
  /// True when a look is due and may be taken now.
  [[nodiscard]] bool take_look(TimePoint now);

 private:
  [[nodiscard]] bool heard_lately(TimePoint at) const;

  TimePoint since_;  ///< of the last answer, or when we began
  bool ever_answered_ = false;
  std::optional<TimePoint> heard_at_;  ///< the vehicle's own frames
  int nothings_ = 0;                   ///< since the last answer
  std::optional<TimePoint> off_since_;
  TimePoint look_at_{};
  Duration look_wait_{};
};

}  // namespace sumplog
