#pragma once
#include <array>
#include <cstddef>
#include <cstdint>

namespace sumplog {

/// What became of one reading.
enum class Intake : std::uint8_t {
  out_of_range,  ///< no temperature of a fluid; not used
  suspicious,    ///< jumped farther than a fluid can; not used until it has stayed there
  held,          ///< good, and the next tick takes it along
  tick,          ///< good, and a tick is over
  restart,       ///< good, and everything begins anew with it
};

/// Causal front end: drops what no fluid does, thins to one sample a tick (by time only: thinning by value
/// would count a toggling reading too often), and finds the step of a coarse converter behind a fine scale.
/// src  own research: docs/thermometer.md
class ReadingIntake {
 public:
  /// in   told_step_c  what the decoder says
  explicit ReadingIntake(double told_step_c);

  Intake on_reading(double at_s, double reading_c);

  // Of the last tick or restart.
  [[nodiscard]] double at_s() const { return tick_s_; }
  [[nodiscard]] double reading_c() const { return tick_c_; }
  [[nodiscard]] double mean_c() const { return mean_c_; }  ///< of the readings since the tick before
  [[nodiscard]] double step_c() const { return step_c_; }
  [[nodiscard]] bool learnt_step() const { return step_c_ > kLearntFactor * told_step_c_; }
  /// The readings jumped and stayed: they may be a substitute. Over after three plausible changes.
  [[nodiscard]] bool substitute() const { return substitute_; }
  /// Longer without any change than a fine sensor can be.
  [[nodiscard]] bool still_too_long() const;

 private:
  static constexpr double kLearntFactor = 1.5;
  static constexpr std::size_t kChanges = 9;

  Intake begin(double at_s, double reading_c);
  Intake accept_jump(double at_s, double reading_c);
  void count_change(double at_s, double reading_c);
  void find_step(bool same);

  double told_step_c_;
  double step_c_;
  bool begun_ = false;
  double last_s_ = 0;
  double last_c_ = 0;
  // since the tick
  double sum_c_ = 0;
  int samples_ = 0;
  // the tick
  double tick_s_ = 0;
  double tick_c_ = 0;
  double mean_c_ = 0;
  // a jump that is watched
  bool suspicious_ = false;
  double suspicious_since_s_ = 0;
  double suspicious_c_ = 0;
  bool substitute_ = false;
  double before_jump_s_ = 0;  ///< last good reading before the substitute
  double before_jump_c_ = 0;
  int plausible_changes_ = 0;
  // changes of the reading
  std::array<double, kChanges> changes_{};  ///< sizes, oldest first
  std::size_t change_count_ = 0;
  double same_ = 0;
  double different_ = 0;
  double changed_s_ = 0;
  double change_interval_s_;
};

}  // namespace sumplog
