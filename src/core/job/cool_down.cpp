#include "core/job/cool_down.h"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "core/item/json_line.h"
#include "core/thermal/elementary.h"
#include "core/thermal/weighted_quantiles.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Common practice, no source: a warm gearbox beside a warm engine needs 100…170 minutes for 63 % of its way in
// still air, 40…60 with a large fan; some much longer. Natural logarithm of 1/s, with its spread.
constexpr KnownFigure kStillLogRate{-8.961879012677683, 0.5};  // ln(1 / 130 min)
constexpr KnownFigure kFanLogRate{-8.006367567650246, 0.45};   // ln(1 / 50 min)
constexpr KnownFigure kAssumedAround{20, 5};                   // °C; a workshop, own choice
constexpr double kEnteredSd_c = 2;
constexpr double kAmbientSensorSd_c = 4;  // it hangs on a warm car
constexpr RateRange kRates{1.0 / (24 * 3600), 1.0 / 600};

constexpr double kHandSd_c = 1;                 // of a thermometer in the stream or on the pan
constexpr double kUnevenSd_c = 0.4;             // what block and gearbox give each other, beside rounding
constexpr double kUniform = 0.288675134594813;  // sd of a rounded value, steps: 1/√12
constexpr double kCoolantStep_c = 1;            // SAE J1979, PID 05
constexpr Duration kMeasuredApart = 2min;
constexpr Duration kHandApart = 10s;
constexpr std::size_t kEnough = 3;
constexpr std::size_t kMostSamples = 64;
constexpr double kFallen_c = 2;       // before anything is foretold
constexpr double kNoWider = 0.1;      // of the likely time: one exponential is a simple picture of a car
constexpr double kBelowWindow_c = 5;  // common practice, no source: where no start limit is known
constexpr double kNewsShare = 0.1;    // of the time ahead
constexpr double kNews_s = 120;       // a likely moment that moved less is no news …
constexpr Duration kRepeat = 10min;   // … until this has gone by

// The likelihood is added up over rates that lie so far apart, in sds, to both sides.
constexpr int kRateNodes = 12;
constexpr double kNodeDistance = 0.3;
constexpr double kThreeNodes[] = {-1.224744871391589, 0, 1.224744871391589};  // ±√(3/2): variance 1

std::string degrees(double c) {
  return fixed(c, 0) + " °C";
}

/// Standard deviation of a reading of a unit whose value comes in such steps.
double sd_of(double step_c) {
  const double rounding = kUniform * step_c;
  return std::sqrt(kUnevenSd_c * kUnevenSd_c + rounding * rounding);
}

Quantiles later_of(const Quantiles& a, const Quantiles& b) {
  Quantiles out;
  for (std::size_t i = 0; i < out.size(); ++i)
    if (a[i] && b[i]) out[i] = std::max(*a[i], *b[i]);
  return out;
}

}  // namespace

bool CoolingCourse::on_sample(TimePoint at, double value_c, double sd_c, Duration apart) {
  const bool warmer = !samples_.empty() && value_c > samples_.front().value_c;
  if (!samples_.empty() && at - samples_.back().at < (warmer ? apart : std::max(apart, spacing_)))
    return false;
  // While it still warms, nothing of what was before belongs to its cooling.
  if (warmer) restart();
  samples_.push_back({at, value_c, sd_c});
  last_c_ = value_c;
  if (samples_.size() >= kMostSamples) {
    std::size_t kept = 0;
    for (std::size_t i = 0; i < samples_.size(); i += 2) samples_[kept++] = samples_[i];
    samples_.resize(kept);
    spacing_ = 2 * std::max(apart, spacing_);
  }
  return true;
}

void CoolingCourse::restart() {
  samples_.clear();
  last_c_.reset();
  spacing_ = {};
}

std::optional<double> CoolingCourse::first_c() const {
  if (samples_.empty()) return std::nullopt;
  return samples_.front().value_c;
}

std::optional<Quantiles> CoolingCourse::below_in_s(double target_c, TimePoint now, KnownFigure around,
                                                   KnownFigure log_rate) const {
  if (samples_.size() < kEnough || samples_.front().value_c - samples_.back().value_c < kFallen_c)
    return std::nullopt;
  const TimePoint origin = samples_.front().at;
  std::vector<CourseSample> samples;
  samples.reserve(samples_.size());
  for (const Sample& s : samples_) samples.push_back({in_seconds(s.at - origin), s.value_c, s.sd_c});
  const CourseQuestion question{samples, std::nullopt, around, log_rate};
  const auto best = fit_course(question, kRates);
  if (!best) return std::nullopt;

  // Samples that lie farther from the course than their sds allow make everything less certain.
  const double freedom = static_cast<double>(samples.size() - 1);
  const double widen = std::max(1.0, best->misfit / freedom);
  const double now_s = in_seconds(now - origin);
  std::vector<WeightedValue> times;
  double never = 0;
  for (int i = -kRateNodes; i <= kRateNodes; ++i) {
    const double away = i * kNodeDistance * best->log_rate_sd * std::sqrt(widen);
    const auto fit = fit_at_rate(question, best->course.rate * exp_of(away));
    if (!fit) continue;
    const double determinant = fit->start_variance * fit->end_variance - fit->covariance * fit->covariance;
    const double weight =
        exp_of((best->misfit - fit->misfit) / (2 * widen)) * std::sqrt(std::max(0.0, determinant));
    const double end_sd = std::sqrt(fit->end_variance * widen);
    const double start_on_end = fit->covariance / fit->end_variance;
    const double start_sd = std::sqrt(std::max(0.0, determinant / fit->end_variance) * widen);
    for (const double z_end : kThreeNodes) {
      for (const double z_start : kThreeNodes) {
        ExponentialCourse course = fit->course;
        course.end += z_end * end_sd;
        course.start += start_on_end * z_end * end_sd + z_start * start_sd;
        if (const auto at = course.time_at(target_c))
          times.push_back({std::max(0.0, *at - now_s), weight});
        else
          never += weight;
      }
    }
  }
  const auto q = quantiles(times, never);
  if (!q) return std::nullopt;
  Quantiles out{q->p10, q->p50, q->p90};
  // Where the middle is known, so is what lies before it.
  if (out[1]) out[0] = std::min(*out[0], *out[1] * (1 - kNoWider));
  if (out[1] && out[2]) out[2] = std::max(*out[2], *out[1] * (1 + kNoWider));
  return out;
}

std::optional<CoolDown::Target> CoolDown::target_of(const std::optional<ServiceFile>& service,
                                                    const std::optional<TemperatureWindow>& window) {
  Target out;
  if (service && service->coolant_limit) out.coolant_c = service->coolant_limit->value;
  if (service && service->start_limit) {
    out.fluid_c = service->start_limit->value;
    out.from_service_file = true;
    return out;
  }
  if (!window) return std::nullopt;
  out.fluid_c = window->low - CelsiusDifference{kBelowWindow_c};
  return out;
}

void CoolDown::on_engine(bool runs) {
  if (runs) {
    ran_ = true;
    planning_ = false;
    air_said_ = false;
    air_ = Air::still;
  } else if (ran_ && !planning_) {
    planning_ = true;
    restart();
  }
}

void CoolDown::on_asked(std::optional<Air> air, std::optional<double> around_c) {
  if (air) {
    // What was seen without the fan says little of the course with it.
    if (planning_ && air_ != *air) restart();
    air_ = *air;
    air_said_ = true;
  }
  if (around_c) around_c_ = around_c;
  if (!planning_) restart();
  planning_ = true;
  news_ = by_hand_ = true;
}

void CoolDown::on_fluid_changed() {
  fluid_.restart();
}

void CoolDown::restart() {
  fluid_.restart();
  coolant_.restart();
  said_cold_ = false;
  said_at_.reset();
}

void CoolDown::on_fluid(TimePoint at, double value_c, double step_c) {
  if (!planning_) return;
  if (fluid_.on_sample(at, value_c, sd_of(step_c), kMeasuredApart)) news_ = true;
}

void CoolDown::on_fluid_by_hand(TimePoint at, double value_c) {
  if (!planning_) return;
  if (fluid_.on_sample(at, value_c, kHandSd_c, kHandApart)) news_ = by_hand_ = true;
}

void CoolDown::on_coolant(TimePoint at, double value_c) {
  if (!planning_) return;
  if (coolant_.on_sample(at, value_c, sd_of(kCoolantStep_c), kMeasuredApart)) news_ = true;
}

void CoolDown::say_cold_enough(TimePoint now, std::vector<Event>& events) {
  said_cold_ = true;
  std::string text = "cold enough to begin: fluid below " + degrees(target_->fluid_c.value);
  if (target_->coolant_c) {
    text += ", coolant " + std::string(coolant_.last_c() ? "" : "(not read) must be ") + "below " +
            degrees(target_->coolant_c->value);
  }
  events.emplace_back(CueEvent{now, "cold_enough", text});
}

std::optional<ForecastEvent> CoolDown::forecast(TimePoint now) const {
  ForecastEvent out;
  out.at = now;
  out.target_c = target_->fluid_c.value;
  out.samples = fluid_.samples();
  if (target_->coolant_c) out.coolant_target_c = target_->coolant_c->value;

  std::string around_from = "nobody said";
  KnownFigure around = kAssumedAround;
  if (around_c_) {
    around = {*around_c_, kEnteredSd_c};
    around_from = "as entered";
  } else if (ambient_c_) {
    around = {*ambient_c_, kAmbientSensorSd_c};
    around_from = "as the vehicle says";
  }
  const KnownFigure log_rate = air_ == Air::fan ? kFanLogRate : kStillLogRate;
  const auto fluid = *fluid_.last_c() < out.target_c ? std::optional(Quantiles{0.0, 0.0, 0.0})
                                                     : fluid_.below_in_s(out.target_c, now, around, log_rate);
  if (!fluid) return std::nullopt;
  out.ready_in_s = *fluid;

  switch (air_) {
    case Air::still: out.assumes.emplace_back(air_said_ ? "still air" : "still air, nobody said"); break;
    case Air::fan: out.assumes.emplace_back("a fan blows at it"); break;
  }
  out.assumes.push_back(degrees(around.value) + " around the car, " + around_from);
  if (!target_->from_service_file)
    out.assumes.push_back("begin " + degrees(kBelowWindow_c) + " below the window: no start limit is known");
  if (!out.coolant_target_c) return out;
  if (coolant_.last_c() && *coolant_.last_c() < *out.coolant_target_c) return out;
  if (const auto coolant = coolant_.below_in_s(*out.coolant_target_c, now, around, log_rate))
    out.ready_in_s = later_of(out.ready_in_s, *coolant);
  else
    out.assumes.push_back("coolant will be below " + degrees(*out.coolant_target_c) + " by then, too");
  return out;
}

void CoolDown::update(TimePoint now, std::vector<Event>& events) {
  if (!news_ || !planning_ || !target_ || !fluid_.last_c()) return;
  const bool asked = by_hand_;
  news_ = by_hand_ = false;
  const bool fluid_cold = *fluid_.last_c() < target_->fluid_c.value;
  const bool coolant_cold =
      !target_->coolant_c || !coolant_.last_c() || *coolant_.last_c() < target_->coolant_c->value;
  if (fluid_cold && coolant_cold) {
    // Somebody who began with a cold car waits for nothing.
    const bool was_warm =
        *fluid_.first_c() >= target_->fluid_c.value ||
        (target_->coolant_c && coolant_.first_c() && *coolant_.first_c() >= target_->coolant_c->value);
    if (was_warm && !said_cold_) say_cold_enough(now, events);
    return;
  }
  const auto said = forecast(now);
  if (!said) return;
  if (said_at_ && !asked && now - *said_at_ < kRepeat) {
    const bool never = !said->ready_in_s[1];
    if (never == !said_ready_s_.has_value() &&
        (never || std::abs(in_seconds(now - *said_at_) + *said->ready_in_s[1] - *said_ready_s_) <
                      std::max(kNews_s, kNewsShare * *said->ready_in_s[1])))
      return;
  }
  said_at_ = now;
  said_ready_s_ = said->ready_in_s[1];
  events.emplace_back(*said);
}

}  // namespace sumplog
