#pragma once
#include <optional>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/job/belief.h"
#include "core/job/cool_down.h"
#include "core/job/cues.h"
#include "core/job/doubt.h"
#include "core/job/hand_thermometer.h"
#include "core/job/job_settings.h"
#include "core/job/level_check.h"
#include "core/job/level_verdict.h"
#include "core/job/plug.h"
#include "core/job/recent_readings.h"
#include "core/job/regime_watch.h"
#include "core/job/signal_sources.h"
#include "core/journal/event.h"
#include "core/thermal/thermometer.h"

namespace sumplog {

/// Watches the fluid temperature of one unit: freshness, belief, window state, gaps, and what follows for the
/// level check. `inside` is said only with a fresh, valid reading that lies inside itself.
class FluidWatch {
 public:
  explicit FluidWatch(JobConfiguration configuration);

  /// A reading of any signal. A gap that it ends, or a hold of the selector cycle, is appended to `events`.
  void on_reading(const ReadingEvent& reading, std::vector<Event>& events);
  /// What a unit told about its fault codes.
  void on_codes(const CodesEvent& codes) {
    check_.codes().on_codes(codes);
    news_ = true;
  }
  /// It told the same again: there is no line, but they were read.
  void on_codes_again(const BusUnit& unit, TimePoint at) {
    check_.codes().on_told_again(unit, at);
    due_ = earliest();
  }
  void on_link(BusName bus, LinkState state);
  /// The program was stopped and goes on: what was seen before is not live.
  void on_resume(TimePoint now);
  /// Something that was recorded cannot be read.
  void on_unreadable(TimePoint now);
  /// What a person did or typed. A reading by hand is appended to `events`.
  void on_entry(const Entry& entry, std::vector<Event>& events);
  /// Closes an open gap, and a level check in which the plug is still out.
  void on_end(TimePoint now, std::vector<Event>& events);
  /// Says what has changed: thermal, window, check. Call after everything that happened at `now`.
  void update(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<TimePoint> deadline() const { return due_; }

 private:
  [[nodiscard]] std::optional<TimePoint> earliest() const;
  [[nodiscard]] bool is_source(const ReadingEvent& reading);
  /// Fault codes speak against the unit, and a second thermometer says where the fluid is: then that one counts alone.
  [[nodiscard]] bool unit_is_left_out(TimePoint now) const;
  /// The bus of the unit that gives the fluid temperature; empty: not known yet.
  [[nodiscard]] BusName source_bus() const;
  /// What speaks against the unit's own reading; empty: nothing.
  [[nodiscard]] std::string doubt_words() const;
  /// Belief in what the unit says, without the reading by hand.
  [[nodiscard]] Belief measured_belief(TimePoint now) const;
  /// Whether of two that say nothing the second thermometer's reason is the one that helps: the unit has never spoken, or two
  /// readings by hand contradict each other.
  [[nodiscard]] bool tells_of_hand(TimePoint now, const Belief& measured, const Belief& by_hand) const;
  /// What of a reading the cool-down plan needs.
  void plan_on(const ReadingEvent& reading);
  void on_cool_down(const Entry& entry);
  void on_position_held(const Entry& entry, TimePoint at, std::vector<Event>& events);
  /// What the verdict needs to know when the plug moves, or the recording ends.
  [[nodiscard]] PlugMoved plug_moved(TimePoint at, TimePoint now) const;
  void on_plug(TimePoint at, bool out, TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<std::string> hot_engine(TimePoint now, const Belief& belief,
                                                      const ThermalEstimate& estimate) const;
  void on_reading_by_hand(const Entry& entry, double value_c, std::vector<Event>& events);
  /// What the verdict needs of a believed reading.
  void record_fluid(TimePoint now, const Belief& belief, const ThermalEstimate& estimate);
  void say_cues(TimePoint now, const Belief& belief, const std::optional<ThermalEstimate>& estimate,
                std::vector<Event>& events);
  /// Whether live readings broke off since the last valid one (there is one).
  [[nodiscard]] bool interrupted(TimePoint now) const;
  /// A thermometer for the step and rounding of this reading; the one that is there, if it fits.
  void fit_thermometer(const ReadingEvent& reading);
  void take(const ReadingEvent& reading, std::vector<Event>& events);
  void no_value(std::string why);

  JobConfiguration configuration_;
  LevelCheck check_;
  HandThermometer hand_;
  RegimeWatch regime_;
  Doubt doubt_;
  Cues cues_;
  LevelVerdict verdict_;
  CoolDown cool_down_;
  Plug plug_;
  RecentReadings recent_;
  std::optional<Thermometer> thermometer_;
  ThermometerConfig thermometer_config_;
  SignalSources sources_;                 ///< of the fluid temperature alone
  std::optional<TimePoint> answered_at_;  ///< last valid reading
  double reading_c_ = 0;                  ///< its value
  std::string no_value_why_;              ///< the newest answer had no value
  std::string away_why_;                  ///< bus down, or program stopped, since the last reading
  std::string gap_why_;                   ///< first trouble since the last reading
  std::optional<ThermalEstimate> estimate_;
  TimePoint now_ = TimePoint::min();
  std::optional<TimePoint> due_;      ///< earliest() since the last news
  std::optional<TimePoint> said_at_;  ///< last thermal line
  TimePoint heard_at_{};              ///< last reading or entry
  bool exceeded_ = false;  ///< the window was, and the fluid has not been below the start limit since
  WindowState window_ = WindowState::unknown;
  bool bridging_ = false;       ///< the forecast goes on from the last reading by hand
  bool fresh_reading_ = false;  ///< of the fluid, since the last update
  bool news_ = true;            ///< of any kind, since the last update
  std::string window_why_;
  std::optional<CheckEvent> check_said_;
};

}  // namespace sumplog
