#pragma once
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "core/job/check_record.h"
#include "core/job/confirmations.h"
#include "core/job/job_settings.h"
#include "core/journal/event.h"

namespace sumplog {

/// What is known when the plug comes out or goes in.
struct PlugMoved {
  TimePoint at{};   ///< as the person says
  TimePoint now{};  ///< of the entry
  std::optional<double> temp_c;
  std::optional<TimePoint> codes_read_at;  ///< of the unit that gives the temperature
  bool cycle_by_hand = false;
  bool agreed_cold = false;  ///< its thermometer agreed with coolant and air of a cold engine
};

/// Judges each level check, from plug out to plug in: were the conditions of the service file kept the whole time? What could
/// not be seen, and what nobody said, was not kept. What the person saw at the standpipe is another statement and changes
/// nothing of it.
class LevelVerdict {
 public:
  explicit LevelVerdict(const JobConfiguration& configuration);

  [[nodiscard]] CheckRecord& record() { return record_; }
  [[nodiscard]] Confirmations& confirmations() { return confirmations_; }

  void on_plug_out(const PlugMoved& plug);
  /// Appends the verdict, if the plug was out.
  void on_plug_in(const PlugMoved& plug, std::vector<Event>& events);
  /// Fluid was poured in.
  /// in   at  as the person says; entered late it may lie before plug out
  void on_fluid_added(TimePoint at);
  /// An entry `level_seen`. After plug in the verdict is said again with it.
  void on_level_seen(const Entry& entry, std::vector<Event>& events);
  /// A believed reading; of those while the plug is out the decision point is told.
  void on_fluid(TimePoint at, double value_c);
  /// The program was stopped, or something that was recorded cannot be read.
  /// in   why  "the program was stopped for 95 s with the plug out"
  void on_hole(TimePoint from, TimePoint to, const std::string& why);
  /// The recording ends: a plug that is still out is a verdict.
  void on_end(const PlugMoved& end, std::vector<Event>& events);

 private:
  struct Check {
    PlugMoved out;
    std::optional<LevelSeen> seen;
    std::optional<double> decision_c;
    TimePoint decision_at{};
    std::vector<Spell> holes;  ///< of the recording
  };
  [[nodiscard]] VerdictEvent judge(const PlugMoved& in) const;
  [[nodiscard]] std::vector<std::string> reasons(const PlugMoved& in, bool by_hand) const;
  void object_to_reading(TimePoint in, bool by_hand, std::vector<std::string>& why) const;
  void object_to_state(TimePoint in, bool by_hand, std::vector<std::string>& why) const;
  /// Fluid had been poured in less than the settling time before `at`.
  [[nodiscard]] bool unsettled(TimePoint at) const;
  void object_to_settling(TimePoint in, std::vector<std::string>& why) const;
  void object_to_unit(const PlugMoved& in, std::vector<std::string>& why) const;
  void object_to_preparation(TimePoint in, std::vector<std::string>& why) const;
  /// Those that are not explained by a hole of the recording or of the reading.
  [[nodiscard]] std::vector<Spell> unexplained(Condition condition, TimePoint in,
                                               const std::vector<Spell>& holes) const;
  [[nodiscard]] std::vector<Spell> window_spells(TimePoint in, bool by_hand) const;
  [[nodiscard]] std::vector<std::string> words_of_a_person(const PlugMoved& in, bool by_hand) const;

  std::optional<ServiceFile> service_;
  std::optional<TemperatureWindow> window_;
  Duration fresh_;
  CheckRecord record_;
  Confirmations confirmations_;
  std::deque<TimePoint> added_;       ///< when fluid was poured in, the last times
  std::optional<Check> check_;        ///< the plug is out
  std::optional<VerdictEvent> last_;  ///< as it was said
};

}  // namespace sumplog
