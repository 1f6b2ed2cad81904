#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/item/time.h"
#include "core/journal/event.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// What the cues are decided from, at one moment.
struct CueSituation {
  TimePoint now{};
  WindowState window = WindowState::unknown;
  std::optional<double> reading_c;        ///< live
  bool estimate_inside = false;           ///< the estimate's own view: a noisy reading may say otherwise
  std::optional<double> announce_in_s;    ///< until the window starts at the earliest; nothing: not ahead
  std::optional<double> stay_low_s;       ///< what is left of the stay, 10 % quantile; inside only
  std::optional<std::string> hot_engine;  ///< a warning; nothing: there is none
  bool fast = false;                      ///< the window will be too short
  bool falling = false;                   ///< the fluid cools: what lies below the window is not ahead of it
  bool plug_out = false;
  std::optional<bool> engine_runs;  ///< nothing: not known
  bool engine_must_run = false;     ///< the procedure says so
  bool cycle_missing = false;       ///< a selector cycle is asked for and not complete
};

/// Tells the person under the car what comes next, each thing once in an approach to the window. What would
/// come out of order is dropped: a short window has no room for all. A new approach begins when the fluid is
/// below the window again after it had left it.
/// Above all others, at once and outside the order: engine stopped with the plug out, no reading with the plug
/// out, rising too fast, hot engine.
/// src  times: common practice, no source
class Cues {
 public:
  explicit Cues(std::optional<Celsius> decision_point) : decision_point_(decision_point) {}
  void update(const CueSituation& situation, std::vector<Event>& events);

 private:
  /// In the order of an approach.
  enum class Step : std::uint8_t {
    none,
    soon_5_min,
    lay_out,
    soon_2_min,
    selector_cycle,
    soon_1_min,
    window_starts,
    decision_point,
    ends_in_1_min,
    window_ended,
  };
  /// Says something once for as long as its reason holds.
  class Alarm {
   public:
    [[nodiscard]] bool rises(bool reason) {
      const bool rose = reason && !on_;
      on_ = reason;
      return rose;
    }

   private:
    bool on_ = false;
  };
  void begin_below(const CueSituation& situation, std::vector<Event>& events);
  void alarm(const CueSituation& situation, std::vector<Event>& events);
  void approach(const CueSituation& situation, std::vector<Event>& events);
  void say(Step step, TimePoint now, std::vector<Event>& events);

  std::optional<Celsius> decision_point_;
  Step said_ = Step::none;  ///< the last one of this approach
  bool left_ = false;       ///< the window was entered or passed: a new approach begins below it
  bool fast_said_ = false;  ///< in this approach
  bool hot_said_ = false;   ///< in this approach
  Alarm engine_stopped_;
  Alarm no_reading_;
  Alarm came_out_;  ///< the plug
};

}  // namespace sumplog
