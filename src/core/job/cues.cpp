#include "core/job/cues.h"

#include <string>

namespace sumplog {
namespace {

// Common practice, no source: how long before the window the person needs to be told.
constexpr double kSoon5_s = 300;
constexpr double kLayOut_s = 180;  // vessel, fluid, pump, gloves, lamp within reach
constexpr double kSoon2_s = 120;
constexpr double kCycle_s = 90;  // the selector cycle, and then somebody goes under the car
constexpr double kSoon1_s = 60;
constexpr double kEnds_s = 60;

}  // namespace

void Cues::say(Step step, TimePoint now, std::vector<Event>& events) {
  if (step <= said_) return;  // said already, or it would come out of order
  said_ = step;
  const auto cue = [&](const char* name, const char* text) {
    events.emplace_back(CueEvent{now, name, text});
  };
  switch (step) {
    case Step::none: return;
    case Step::soon_5_min: return cue("soon_5_min", "the window may start in 5 minutes");
    case Step::lay_out: return cue("lay_out", "lay everything out now");
    case Step::soon_2_min: return cue("soon_2_min", "the window may start in 2 minutes");
    case Step::selector_cycle: return cue("selector_cycle", "selector cycle now: nobody under the car");
    case Step::soon_1_min: return cue("soon_1_min", "the window may start in 1 minute");
    case Step::window_starts: return cue("window_starts", "the window starts");
    case Step::decision_point: return cue("decision_point", "decision point: if it is dry, add fluid now");
    case Step::ends_in_1_min: return cue("ends_in_1_min", "the window may end in 1 minute");
    case Step::window_ended: return cue("window_ended", "the window has ended: plug in");
  }
}

void Cues::update(const CueSituation& situation, std::vector<Event>& events) {
  // A reading that toggles across the edge is no leaving as long as the estimate is inside.
  if (situation.window == WindowState::below && !situation.estimate_inside) begin_below(situation, events);
  alarm(situation, events);
  approach(situation, events);
}

/// Below the window after it had been entered or passed: a new approach, and everything may be said again.
void Cues::begin_below(const CueSituation& s, std::vector<Event>& events) {
  if (!left_) return;
  // Cooled through the window from above, its end was said there; with the plug out it is said again.
  if (s.plug_out && said_ == Step::window_ended) said_ = Step::ends_in_1_min;
  say(Step::window_ended, s.now, events);
  left_ = false;
  fast_said_ = hot_said_ = false;
  said_ = Step::none;
}

void Cues::alarm(const CueSituation& s, std::vector<Event>& events) {
  const bool stopped = s.plug_out && s.engine_must_run && s.engine_runs == false;
  if (engine_stopped_.rises(stopped))
    events.emplace_back(CueEvent{s.now, "engine_stopped", "engine stopped with the plug out: plug in"});
  if (no_reading_.rises(s.plug_out && s.window == WindowState::unknown))
    events.emplace_back(CueEvent{s.now, "no_reading", "no reading: plug in"});
  // Said with the plug in, the end of the window is said again to whoever takes it out all the same.
  if (came_out_.rises(s.plug_out) && said_ == Step::window_ended) said_ = Step::ends_in_1_min;
  if (s.hot_engine && !hot_said_ && !s.plug_out) {
    hot_said_ = true;
    events.emplace_back(CueEvent{s.now, "hot_engine", *s.hot_engine});
  }
  if (s.fast && !s.falling && !fast_said_ && !s.plug_out &&
      (s.window == WindowState::below || s.window == WindowState::inside)) {
    fast_said_ = true;
    events.emplace_back(CueEvent{s.now, "too_fast", "rising too fast: do not take the plug out"});
  }
}

void Cues::approach(const CueSituation& s, std::vector<Event>& events) {
  switch (s.window) {
    case WindowState::unknown: return;  // nothing is known, so nothing has ended and nothing begins
    case WindowState::below: {
      if (!s.announce_in_s || s.falling) return;
      const double ahead = *s.announce_in_s;
      // Of several that are due at once only the nearest "soon" is said.
      if (ahead <= kSoon5_s && ahead > kSoon2_s) say(Step::soon_5_min, s.now, events);
      if (ahead <= kLayOut_s) say(Step::lay_out, s.now, events);
      if (ahead <= kSoon2_s && ahead > kSoon1_s) say(Step::soon_2_min, s.now, events);
      if (ahead <= kCycle_s && s.cycle_missing) say(Step::selector_cycle, s.now, events);
      if (ahead <= kSoon1_s) say(Step::soon_1_min, s.now, events);
      return;
    }
    case WindowState::inside:
      left_ = true;
      say(Step::window_starts, s.now, events);
      if (decision_point_ && s.reading_c && *s.reading_c >= decision_point_->value)
        say(Step::decision_point, s.now, events);
      if (s.stay_low_s && *s.stay_low_s <= kEnds_s) say(Step::ends_in_1_min, s.now, events);
      return;
    case WindowState::above:
      left_ = true;
      say(Step::window_ended, s.now, events);
      return;
  }
}

}  // namespace sumplog
