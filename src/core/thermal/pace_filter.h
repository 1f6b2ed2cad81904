#pragma once
#include <optional>

namespace sumplog {

/// Mean and spread of the natural logarithm of the seconds that a degree takes.
struct PaceForecast {
  double mean = 0;
  double sd = 0;
};

/// How many seconds the fluid needs from one level to the next, as its history tells it: a two-state Kalman
/// filter on the logarithm, slow part and fast part. It knows no law of warming, so driving cannot fool it.
/// src  own research: docs/thermometer.md
class PaceFilter {
 public:
  /// Passages that a forecast needs.
  static constexpr int kEnough = 2;

  void restart(double at_s, double reading_c);
  /// in   level_c  distance of the levels that are counted, a multiple of the sensor's step
  /// out  true     a level was passed, or the direction was found or changed
  bool on_reading(double at_s, double reading_c, double level_c);
  /// The course may have changed: what was learned is less sure.
  void loosen();

  /// Logarithm of the mean seconds per level over the next `levels`, when `waited_s` have gone since the last
  /// passage.
  [[nodiscard]] PaceForecast forecast(double levels, double waited_s, bool standing) const;

  [[nodiscard]] double direction() const { return direction_; }  ///< +1 rising, −1 falling, 0 not known yet
  [[nodiscard]] double level_c() const { return level_c_; }      ///< reading at the last passage
  [[nodiscard]] double passed_at_s() const { return passed_at_s_; }
  [[nodiscard]] int passages() const { return passages_; }  ///< in this direction

 private:
  struct State {
    double slow = 0, fast = 0;
    double ss = 0, sf = 0, ff = 0;  ///< covariance
    void predict();
  };
  void learn(double seconds_per_level, int levels);

  double direction_ = 0;
  double level_c_ = 0;
  double passed_at_s_ = 0;
  int passages_ = 0;
  State state_;
};

}  // namespace sumplog
