#pragma once
#include <optional>
#include <vector>

#include "core/decoder/service_file.h"
#include "core/item/time.h"
#include "core/journal/event.h"
#include "core/thermal/exponential_fit.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// How the car is cooled: decides what is expected before the samples say more.
enum class Air : std::uint8_t { still, fan };

/// One thing that cools with the engine off, by Newton's law: samples, and when it will be below a
/// temperature.
class CoolingCourse {
 public:
  /// A sample; those that come too close behind the last one, or while it still warms, count for nothing.
  /// in   apart  least time between two samples · sd_c  of the reading, °C
  /// out  whether it counts
  bool on_sample(TimePoint at, double value_c, double sd_c, Duration apart);
  void restart();
  [[nodiscard]] std::size_t samples() const { return samples_.size(); }
  [[nodiscard]] std::optional<double> last_c() const { return last_c_; }
  /// The warmest sample, from which on the course counts.
  [[nodiscard]] std::optional<double> first_c() const;
  /// Seconds from `now` until it is below the target: 10, 50 and 90 %, an element without a value is "never".
  /// in   around  temperature of the air around the car
  /// out  nothing: fewer than three samples, or they do not fall yet
  [[nodiscard]] std::optional<Quantiles> below_in_s(double target_c, TimePoint now, KnownFigure around,
                                                    KnownFigure log_rate) const;

 private:
  struct Sample {
    TimePoint at{};
    double value_c = 0;
    double sd_c = 1;
  };
  std::vector<Sample> samples_;
  std::optional<double> last_c_;
  Duration spacing_{};  ///< beside `apart`: grows when there are many samples
};

/// When fluid and coolant will be cold enough to begin the level check, from a few readings with the engine
/// off. It begins when the engine stops in the course of a job, or when a person says so, and ends when the
/// engine runs.
class CoolDown {
 public:
  struct Target {
    Celsius fluid_c{};                 ///< begin only when colder
    std::optional<Celsius> coolant_c;  ///< and the coolant below this
    bool from_service_file = false;    ///< else made of the window
  };
  explicit CoolDown(std::optional<Target> target) : target_(target) {}
  /// The start limit and the coolant limit of the service file; without a start limit a little below the
  /// window. Nothing: neither is known.
  [[nodiscard]] static std::optional<Target> target_of(const std::optional<ServiceFile>& service,
                                                       const std::optional<TemperatureWindow>& window);

  /// The engine's state, when it is known.
  void on_engine(bool runs);
  /// A person says: the engine is off, plan. What is absent is assumed.
  void on_asked(std::optional<Air> air, std::optional<double> around_c);
  /// Fluid was added or drained: another course from here.
  void on_fluid_changed();
  void on_fluid(TimePoint at, double value_c, double step_c);
  void on_fluid_by_hand(TimePoint at, double value_c);
  void on_coolant(TimePoint at, double value_c);
  void on_ambient(double value_c) { ambient_c_ = value_c; }

  /// Says what is new: a forecast, or that it is cold enough.
  void update(TimePoint now, std::vector<Event>& events);

 private:
  void restart();
  void say_cold_enough(TimePoint now, std::vector<Event>& events);
  [[nodiscard]] std::optional<ForecastEvent> forecast(TimePoint now) const;

  std::optional<Target> target_;
  bool planning_ = false;
  bool ran_ = false;  ///< the engine was seen running in this job
  Air air_ = Air::still;
  bool air_said_ = false;
  std::optional<double> around_c_;   ///< as a person said
  std::optional<double> ambient_c_;  ///< as the vehicle says
  CoolingCourse fluid_;
  CoolingCourse coolant_;
  bool news_ = false;  ///< a sample or an assumption since the last update
  bool by_hand_ = false;
  bool said_cold_ = false;
  std::optional<TimePoint> said_at_;
  std::optional<double> said_ready_s_;  ///< likely moment, seconds after said_at_
};

}  // namespace sumplog
