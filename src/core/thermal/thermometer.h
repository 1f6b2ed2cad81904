#pragma once
#include <optional>

#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/journal/event.h"
#include "core/thermal/announcement.h"
#include "core/thermal/forecast.h"
#include "core/thermal/pace_filter.h"
#include "core/thermal/reading_intake.h"
#include "core/thermal/temperature.h"
#include "core/thermal/track_record.h"
#include "core/thermal/warming_hypotheses.h"

namespace sumplog {

struct ThermometerConfig {
  CelsiusDifference step{1};  ///< of the readings, as the decoder tells it; > 0
  Rounding rounding = Rounding::unknown;
  std::optional<TemperatureWindow> window;
  Duration minimum_stay{};  ///< a shorter stay is flagged `fast`
};

struct ThermalEstimate {
  Celsius temperature{};                      ///< below the step of the readings
  std::optional<CelsiusPerMinute> rate;       ///< nothing while it is still being measured
  std::optional<CelsiusPerMinute> rate_low;   ///< 80 % interval
  std::optional<CelsiusPerMinute> rate_high;  ///< 80 % interval
  std::optional<double> inside;               ///< probability that it is inside; nothing without a window
  std::optional<WindowState> side;  ///< where the fluid is, by the estimate alone; nothing without a window
  std::optional<Quantiles> enter_in_s;
  std::optional<Quantiles> stay_s;
  std::optional<std::optional<double>> announce_in_s;  ///< 5 % quantile of the time to entry
  bool fast = false;                                   ///< the stay will be shorter than the minimum
  bool falling = false;                                ///< the whole rate interval falls
  bool frozen = false;      ///< not changing as expected: sensor frozen, or heating stopped
  bool substitute = false;  ///< the readings jumped farther than a fluid can, and stayed there
  bool irregular = false;   ///< heats unsteadily, as in driving: wide estimates
};

/// Temperature below the step of the readings, rate, and times ahead, each with an interval that means it.
/// Readings go through the intake to a Gaussian sum of warming laws; level by level a pace filter learns
/// beside it, and a track record decides whose forecast is told. Constant memory, no heap.
/// src  own research: docs/thermometer.md
class Thermometer {
 public:
  explicit Thermometer(const ThermometerConfig& config);

  /// A reading that the unit meant. Times may jump: backwards, or forwards by more than ten minutes, it
  /// begins anew.
  /// out  what became of it; out_of_range and suspicious leave the estimate as it was
  Intake on_reading(TimePoint at, Celsius reading);
  /// Holds from the next reading on.
  void announce(Announcement what);
  /// As of the last reading that was used; nothing before the first.
  [[nodiscard]] const std::optional<ThermalEstimate>& estimate() const { return estimate_; }
  /// What it comes to later, without another reading: temperature and times as the forecast has them. The side
  /// of the window stays that of the last reading, and nothing is changed by asking.
  [[nodiscard]] std::optional<ThermalEstimate> estimate_at(TimePoint at) const;

 private:
  enum class Motion : std::uint8_t { unknown, standing, moving };

  [[nodiscard]] SensorCell cell() const;
  [[nodiscard]] double level_c() const;
  [[nodiscard]] double smooth_weight() const;
  void restart();
  void tick(double length_s, double before_c);
  void pass_levels(double length_s);
  void branch();
  void look(double now_s);
  [[nodiscard]] std::optional<Forecast> foresee(double now_s) const;
  void tell(const Forecast& seen, ThermalEstimate& out) const;
  void judge_side(double now_s, const Forecast& seen);

  ThermometerConfig config_;
  ReadingIntake intake_;
  WarmingHypotheses hypotheses_;
  PaceFilter pace_;
  TrackRecord record_;
  Motion motion_ = Motion::unknown;
  bool announced_ = false;
  std::optional<TimePoint> origin_;  ///< seconds inside count from here
  double restarted_s_ = 0;
  double branched_s_ = 0;
  double looked_s_ = 0;
  bool speaks_ = false;  ///< enough was seen for a rate
  std::optional<WindowState> side_;
  double side_since_s_ = 0;
  std::optional<ThermalEstimate> estimate_;
};

}  // namespace sumplog
