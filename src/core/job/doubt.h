#pragma once
#include <deque>
#include <optional>
#include <string>

#include "core/item/time.h"
#include "core/job/signal_sources.h"
#include "core/journal/event.h"

namespace sumplog {

/// Whether the fluid temperature can be the fluid's at all, by what its neighbours do: coolant, intake and
/// ambient air, engine and vehicle speed. A control unit whose sensor has failed goes on telling a number.
/// What a reading shows by itself (not available, a jump) is found elsewhere.
/// src  substitute values and plausibility rules: common practice, no source; thresholds: own choice
class Doubt {
 public:
  /// Any reading with a value; those without say nothing here, nor does a second unit that gives the same signal.
  void on_reading(const ReadingEvent& reading);
  /// Fluid was added or drained: for a while its temperature may fall.
  void on_fluid_changed(TimePoint at) { changed_at_ = at; }
  /// A second thermometer was read while the unit's own reading was live. Where both agree, what was doubted is settled; what
  /// the neighbours do from then on may raise it again.
  /// in   at  when it was read
  void on_compared(TimePoint at, double by_hand_c, double measured_c);
  /// Readings broke off: what was compared across the hole says nothing.
  void on_gap();

  /// Whether the fluid agreed with coolant and air of a cold engine, before it ran in this job.
  [[nodiscard]] bool agreed_cold() const { return agreed_cold_; }
  /// Why the fluid temperature is not to be believed, and what to do; empty while nothing speaks against it.
  [[nodiscard]] const std::string& why() const { return why_; }

 private:
  struct Sample {
    TimePoint at{};
    double fluid_c = 0;
    std::optional<double> coolant_c;
  };
  void on_fluid(TimePoint at, double fluid_c);
  void follow(TimePoint at, double fluid_c);
  void remember(TimePoint at, double fluid_c);
  [[nodiscard]] std::string soak_why(TimePoint at, double fluid_c);
  // As of the last reading of the fluid.
  void judge();
  [[nodiscard]] std::string constant_why() const;
  [[nodiscard]] std::string follows_why() const;
  [[nodiscard]] std::string falls_why() const;

  SignalSources sources_;
  std::optional<double> fluid_c_;
  TimePoint fluid_at_{};  ///< when the fluid was last read
  std::optional<double> coolant_c_;
  std::optional<double> intake_c_;
  std::optional<double> ambient_c_;
  std::optional<double> intake_at_start_c_;
  std::optional<TimePoint> running_since_;
  bool ran_ = false;      ///< the engine has run for a while in this job
  bool standing_ = true;  ///< as far as is known
  std::optional<TimePoint> changed_at_;
  // A value that does not move: since when, and between which values the coolant was meanwhile.
  TimePoint same_since_{};
  double same_c_ = 0;
  std::optional<double> coolant_low_c_;
  std::optional<double> coolant_high_c_;
  // A difference from the coolant that does not move.
  struct Follow {
    TimePoint since{};
    double low_c = 0;  ///< of the difference
    double high_c = 0;
    double coolant_low_c = 0;
    double coolant_high_c = 0;
  };
  std::optional<Follow> follow_;
  std::deque<Sample> minute_;  ///< one sample in kSampleEvery, of the last kFallSpan
  bool agreed_cold_ = false;
  std::string soak_;           ///< found at the cold soak; stays until a second thermometer says otherwise
  bool soak_settled_ = false;  ///< a second thermometer agreed, and nothing broke off since
  std::string why_;
};

}  // namespace sumplog
