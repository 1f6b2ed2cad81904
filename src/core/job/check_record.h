#pragma once
#include <array>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/job/belief.h"
#include "core/job/condition.h"
#include "core/job/course.h"
#include "core/job/spells.h"

namespace sumplog {

/// What a level check is judged from: when which condition did not hold, and what temperature and engine did. It reaches
/// back for as long as entries may come late, or to the moment when the plug came out. Constant memory.
class CheckRecord {
 public:
  CheckRecord();

  /// What holds from `now` on.
  /// in   objections  of the service file's conditions; those about the reading and the window are judged here instead
  ///      codes       what fault codes speak against the unit, also while a second thermometer stands in for it
  ///      measured    what the unit says
  ///      by_hand     what a second thermometer says
  ///      read_at     when a reading of the unit was last live
  ///      exceeded    the window was exceeded, and the fluid has not been below the start limit since
  void note(TimePoint now, const std::vector<Objection>& objections, const std::vector<std::string>& codes,
            const Belief& measured, const Belief& by_hand, std::optional<TimePoint> read_at, bool exceeded);
  /// A second thermometer was read.
  void on_hand_reading(TimePoint at);
  /// From now on what was before `out` is not asked for any more; nothing: the plug is in.
  void keep_from(std::optional<TimePoint> out) { out_ = out; }

  [[nodiscard]] Course& course() { return course_; }
  [[nodiscard]] const Course& course() const { return course_; }
  [[nodiscard]] const Spells& of(Condition condition) const {
    return spells_[static_cast<std::size_t>(condition)];
  }
  /// Of each condition that a person ticks.
  [[nodiscard]] const std::map<std::string, Spells>& ticks() const { return ticks_; }
  /// Whether a second thermometer tells where the fluid was then: read at most a minute before or after.
  [[nodiscard]] bool known_by_hand(TimePoint at) const;

 private:
  Spells& spells(Condition condition) { return spells_[static_cast<std::size_t>(condition)]; }
  void forget(TimePoint now);

  std::array<Spells, kConditions> spells_;
  std::map<std::string, Spells> ticks_;
  std::deque<TimePoint> by_hand_;
  Course course_;
  std::optional<TimePoint> out_;
};

}  // namespace sumplog
