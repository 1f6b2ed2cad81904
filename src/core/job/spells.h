#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/time.h"

namespace sumplog {

/// A stretch in which one condition did not hold.
struct Spell {
  TimePoint from{};
  TimePoint since{};                ///< when it was last seen to hold: a reading is live for a while
  TimePoint to = TimePoint::max();  ///< max: it lasts
  std::string detail;
  bool unknown = false;     ///< it could not be seen; otherwise it was seen not to hold
  Duration held_between{};  ///< of spells that were put together: how long it held in between
};

/// When one condition of the level check did not hold. Constant memory: of more than kMost spells the two oldest become one,
/// so that what held in between counts as not held.
class Spells {
 public:
  static constexpr std::size_t kMost = 32;  ///< own choice: nobody reads a list of more

  /// From `at` on it does not hold, because of `detail`.
  /// in   since  when it was last seen to hold
  void breaks(TimePoint at, std::string_view detail, bool unknown, std::optional<TimePoint> since = {});
  /// From `at` on it holds.
  void holds(TimePoint at);
  /// What ended before `at` is not asked for any more.
  void forget_before(TimePoint at);

  /// The spell in which `at` lies.
  [[nodiscard]] std::optional<Spell> at(TimePoint at) const;
  /// The spells between two moments, cut off there; one that begins at `to` is not among them.
  [[nodiscard]] std::vector<Spell> between(TimePoint from, TimePoint to) const;

 private:
  std::vector<Spell> all_;  ///< oldest first
};

/// For how long the condition was not seen to hold, in all.
[[nodiscard]] Duration lasted(const std::vector<Spell>& spells);

}  // namespace sumplog
