#pragma once
#include <array>
#include <cstddef>
#include <optional>

#include "core/decoder/decoder.h"
#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/journal/event.h"
#include "core/thermal/temperature.h"

namespace sumplog {

struct ThermometerConfig {
  CelsiusDifference step{1};  ///< of the readings; at most this far is a reading from the value
  Rounding rounding = Rounding::unknown;
  std::optional<TemperatureWindow> window;
  Duration minimum_stay{};                     ///< a shorter stay is flagged `fast`
  std::optional<CelsiusPerMinute> rate_limit;  ///< so is a faster rise
};

struct ThermalEstimate {
  Celsius temperature{};                      ///< below the step of the readings
  std::optional<CelsiusPerMinute> rate;       ///< nothing while too few readings are known
  std::optional<CelsiusPerMinute> rate_low;   ///< 80 % interval
  std::optional<CelsiusPerMinute> rate_high;  ///< 80 % interval
  std::optional<WindowState> side;  ///< where the fluid is, by the estimate alone; nothing without a window
  std::optional<Quantiles> enter_in_s;
  std::optional<Quantiles> stay_s;
  std::optional<std::optional<double>> announce_in_s;  ///< 5 % quantile of the time to entry
  bool fast = false;
  bool falling = false;
};

/// Temperature, rate and times ahead from readings in steps. First version: a straight line through the
/// readings of the last kSpan, kept inside the cell of the newest reading. Constant memory. src  least
/// squares line: any textbook of statistics; checked against NIST StRD Norris
class Thermometer {
 public:
  static constexpr Duration kSpan = std::chrono::seconds{90};
  explicit Thermometer(const ThermometerConfig& config);

  /// A believed reading. Readings must not go back in time. Closer together than kThinning they count once.
  void on_reading(TimePoint at, Celsius reading);
  /// The course so far no longer tells the future: engine started or stopped, a gap.
  void forget();
  /// nothing before the first reading
  [[nodiscard]] std::optional<ThermalEstimate> estimate() const;

 private:
  struct Sample {
    TimePoint at{};
    double value_c = 0;
  };
  struct Line {
    double at_end_c = 0;
    double slope_c_per_s = 0;
    double slope_error = 0;  ///< standard error
  };
  [[nodiscard]] std::optional<Line> line() const;
  [[nodiscard]] const Sample& newest() const;
  void judge_side();

  static constexpr std::size_t kSamples = 256;  ///< ring; kSpan at the thinned rate fits
  ThermometerConfig config_;
  std::array<Sample, kSamples> ring_{};
  std::size_t first_ = 0;
  std::size_t count_ = 0;
  std::optional<WindowState> side_;
};

}  // namespace sumplog
