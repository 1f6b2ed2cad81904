#pragma once
#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/job/code_condition.h"
#include "core/job/condition.h"
#include "core/job/selector_cycle.h"
#include "core/job/signal_sources.h"
#include "core/journal/event.h"

namespace sumplog {

/// Says whether the level check may start: the temperature *and* every other condition of the service file
/// that a bus can show. What cannot be seen is never taken for fulfilled.
class LevelCheck {
 public:
  /// `fresh`: age up to which a reading is live.
  LevelCheck(std::optional<ServiceFile> service, Duration fresh);

  /// A hold of the selector cycle that became long enough or ended too soon is appended to `events`.
  void on_reading(const ReadingEvent& reading, std::vector<Event>& events);
  /// in   by_hand   the state rests on a second thermometer
  ///      exceeded  the window was exceeded, and the fluid has not been below the start limit since
  void on_window(WindowState state, const std::string& why, bool fast, bool by_hand, bool exceeded);
  /// What speaks against the unit's own temperature.
  [[nodiscard]] CodeCondition& codes() { return codes_; }
  [[nodiscard]] const CodeCondition& codes() const { return codes_; }
  /// A person says that the selector cycle was done, or one hold of it.
  /// in   at  when; before this start of the engine it does not count
  void on_selector_cycle_done(TimePoint at, TimePoint now, std::vector<Event>& events);
  void on_position_held(TimePoint at, TimePoint now, const std::string& position,
                        std::optional<Duration> held, std::vector<Event>& events);
  /// Fluid was poured in: it must mix, as after engine start.
  void on_fluid_added(TimePoint at) { added_at_ = std::max(added_at_.value_or(at), at); }
  /// A person says that one of the conditions holds that no bus shows, or that it holds no longer.
  void on_ticked(const std::string& condition, bool holds);
  /// Bus away or program stopped: nothing that was seen before counts as live.
  void on_gap();

  /// State at `now`, reasons in the order in which a person would mend them.
  [[nodiscard]] CheckEvent judge(TimePoint now) const { return judge(now, objections(now)); }
  [[nodiscard]] CheckEvent judge(TimePoint now, const std::vector<Objection>& objections) const;
  /// Every condition of the service file that does not hold at `now`, in that order.
  [[nodiscard]] std::vector<Objection> objections(TimePoint now) const;
  /// The unit that gives the fluid temperature; empty: not known yet.
  [[nodiscard]] BusUnit fluid_source() const;
  /// nothing: not known now
  [[nodiscard]] std::optional<bool> engine_runs(TimePoint now) const;
  /// Newest value of a signal, if it is known and not older than `age`.
  [[nodiscard]] std::optional<double> value_of(std::string_view signal, TimePoint now, Duration age) const;
  /// Since when the engine is known to run without a break.
  [[nodiscard]] std::optional<TimePoint> running_since() const { return running_since_; }
  [[nodiscard]] bool cycle_missing() const { return cycle_.missing().has_value(); }
  [[nodiscard]] bool cycle_by_hand() const { return cycle_.by_hand(); }
  /// When the state changes by itself: the settling time ends, or a reading gets old.
  [[nodiscard]] std::optional<TimePoint> deadline(TimePoint now) const;

 private:
  struct Live {
    TimePoint at{};
    double value = 0;
    std::string label;
    bool known = false;  ///< false: the newest answer had no value; the rest is of the one before it
  };
  [[nodiscard]] const Live* live(std::string_view signal, TimePoint now) const;
  [[nodiscard]] std::string advice() const;
  void follow_engine(const Live& rpm, bool hole);
  void object_to_engine(TimePoint now, std::vector<Objection>& found) const;
  void object_to_vehicle(TimePoint now, std::vector<Objection>& found) const;
  void object_to_codes(TimePoint now, std::vector<Objection>& found) const;
  void object_to_selector(TimePoint now, std::vector<Objection>& found) const;
  void object_to_settling(TimePoint now, std::vector<Objection>& found) const;

  std::optional<ServiceFile> service_;
  Duration fresh_;
  std::map<std::string, Live, std::less<>> last_;
  SignalSources sources_;
  WindowState window_ = WindowState::unknown;
  std::string window_why_;
  bool window_by_hand_ = false;
  bool exceeded_ = false;
  CodeCondition codes_;
  bool fast_ = false;
  std::optional<TimePoint> running_since_;
  std::optional<bool> ran_;  ///< the engine, when it was last seen
  SelectorCycle cycle_;
  std::optional<TimePoint> added_at_;
  std::set<std::string, std::less<>> ticked_;
};

}  // namespace sumplog
