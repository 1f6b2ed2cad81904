#pragma once
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/job/code_condition.h"
#include "core/journal/event.h"

namespace sumplog {

/// Says whether the level check may start: the temperature *and* every other condition of the service file
/// that a bus can show. What cannot be seen is never taken for fulfilled.
class LevelCheck {
 public:
  /// `fresh`: age up to which a reading is live.
  LevelCheck(std::optional<ServiceFile> service, Duration fresh);

  void on_reading(const ReadingEvent& reading);
  /// `by_hand`: the state rests on a second thermometer.
  void on_window(WindowState state, const std::string& why, bool fast, bool by_hand);
  /// What speaks against the unit's own temperature.
  [[nodiscard]] CodeCondition& codes() { return codes_; }
  /// A person says that the selector cycle was done.
  void on_selector_cycle_done(TimePoint at);
  /// Fluid was poured in: it must mix, as after engine start.
  void on_fluid_added(TimePoint at) { added_at_ = at; }
  /// A person says that one of the conditions holds that no bus shows, or that it holds no longer.
  void on_ticked(const std::string& condition, bool holds);
  /// Bus away or program stopped: nothing that was seen before counts as live.
  void on_gap();

  /// State at `now`, reasons in the order in which a person would mend them.
  [[nodiscard]] CheckEvent judge(TimePoint now) const;
  /// nothing: not known now
  [[nodiscard]] std::optional<bool> engine_runs(TimePoint now) const;
  /// Newest value of a signal, if it is known and not older than `age`.
  [[nodiscard]] std::optional<double> value_of(std::string_view signal, TimePoint now, Duration age) const;
  /// Since when the engine is known to run without a break.
  [[nodiscard]] std::optional<TimePoint> running_since() const { return running_since_; }
  [[nodiscard]] bool cycle_missing() const { return service_ && missing_hold().has_value(); }
  /// When the state changes by itself: the settling time ends, or a reading gets old.
  [[nodiscard]] std::optional<TimePoint> deadline(TimePoint now) const;

 private:
  struct Live {
    TimePoint at{};
    double value = 0;
    std::string label;
    bool known = false;  ///< false: the newest answer had no value; the rest is of the one before it
  };
  [[nodiscard]] bool is_source(const ReadingEvent& reading);
  [[nodiscard]] const Live* live(std::string_view signal, TimePoint now) const;
  [[nodiscard]] std::string advice() const;
  void follow_selector(const Live& reading, bool hole);
  [[nodiscard]] std::optional<std::string> missing_hold() const;
  [[nodiscard]] std::string fluid_source() const;

  std::optional<ServiceFile> service_;
  Duration fresh_;
  std::map<std::string, Live, std::less<>> last_;
  std::map<std::string, std::pair<BusName, std::string>, std::less<>> sources_;  ///< bus and unit by signal
  WindowState window_ = WindowState::unknown;
  std::string window_why_;
  bool window_by_hand_ = false;
  CodeCondition codes_;
  bool fast_ = false;
  std::optional<TimePoint> running_since_;
  std::string position_;  ///< of the selector, as last seen
  TimePoint position_since_{};
  std::map<std::string, Duration, std::less<>> held_;  ///< longest hold of each position since engine start
  bool cycle_done_by_hand_ = false;
  std::optional<TimePoint> added_at_;
  std::set<std::string, std::less<>> ticked_;
};

}  // namespace sumplog
