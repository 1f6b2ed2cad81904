#include "core/thermal/forecast.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "core/thermal/elementary.h"
#include "core/thermal/newton_course.h"
#include "core/thermal/truncated_normal.h"

namespace sumplog {
namespace {

// Own research (docs/thermometer.md).
constexpr double kNegligible = 0.004;  // share of a hypothesis that is not followed
// Means of seven slices of equal probability of a normal distribution, widened to its variance.
constexpr std::array<double, 7> kRateNodes{-1.465 * 1.097, -0.792 * 1.097, -0.366 * 1.097, 0,
                                           0.366 * 1.097,  0.792 * 1.097,  1.465 * 1.097};
constexpr std::array<double, 3> kThreeNodes{-1.2247, 0, 1.2247};  // ±√(3/2): three equal ones of variance 1
// Quantiles (i + ½)/21 of the normal distribution.
constexpr std::array<double, 21> kPaceNodes{-1.9804, -1.4652, -1.1798, -0.9674, -0.7916, -0.6371, -0.4959,
                                            -0.3629, -0.2353, -0.1107, 0.0,     0.1107,  0.2353,  0.3629,
                                            0.4959,  0.6371,  0.7916,  0.9674,  1.1798,  1.4652,  1.9804};
constexpr std::size_t kNodesEach = kRateNodes.size() * kThreeNodes.size() * kThreeNodes.size();
constexpr std::size_t kMostNodes = WarmingHypotheses::kMost * kNodesEach + kPaceNodes.size();

constexpr double kUnknownRounding = 0.25;  // steps, sd
constexpr double kLeastDecay = 1.0 / 3600;
constexpr double kMostDecay = 1.0 / 300;
constexpr double kLeastVariance = 1e-14;
constexpr double kLeastTemperatureVariance = 1e-8;
constexpr double kLeastLevels = 0.02;  // of a pace forecast
constexpr double kLeastAhead_s = 0.3;
constexpr double kLeastStay_s = 0.5;
constexpr double kMoreLikelyThanNot = 0.5;
constexpr double kMayEnter = 0.05;  // probability of entering below which a short stay is no news

/// Nodes collected for the quantiles.
class Nodes {
 public:
  void add(const Visit& v, double weight, double inside_for_s, double minimum_stay_s) {
    if (v.enter_s) {
      enter_[entering_++] = {*v.enter_s, weight};
    } else {
      never_enters_ += weight;
      return;
    }
    entering_weight_ += weight;
    if (!v.stay_s) {
      never_ends_ += weight;
      return;
    }
    stay_[staying_++] = {*v.stay_s, weight};
    const double gone = *v.enter_s > 0 ? 0 : inside_for_s;
    if (*v.stay_s + gone < minimum_stay_s) short_weight_ += weight;
  }
  void conclude(Forecast& out) {
    out.enter_s = quantiles(std::span(enter_).first(entering_), never_enters_);
    out.stay_s = quantiles(std::span(stay_).first(staying_), never_ends_);
    out.fast = entering_weight_ >= kMayEnter * (entering_weight_ + never_enters_) &&
               short_weight_ > kMoreLikelyThanNot * entering_weight_;
  }

 private:
  std::array<WeightedValue, kMostNodes> enter_;
  std::array<WeightedValue, kMostNodes> stay_;
  std::size_t entering_ = 0;
  std::size_t staying_ = 0;
  double never_enters_ = 0;
  double never_ends_ = 0;
  double entering_weight_ = 0;
  double short_weight_ = 0;
};

/// One hypothesis as it is seen now, spread over its nodes.
class Spread {
 public:
  Spread(Hypothesis c, const ForecastQuestion& q) : c_(c), since_tick_s_(q.since_tick_s) {
    if (!q.cell.fine()) {
      const double sd = std::sqrt(c_.tt + kCoarseNoise_c * kCoarseNoise_c);
      c_.commit(truncated(c_.t_c, sd, q.cell.low_c(), q.cell.high_c()), sd);
    }
    if (q.cell.rounding == Rounding::unknown) {
      const double unknown = kUnknownRounding * q.cell.step_c;
      c_.tt += unknown * unknown;
    }
    const double rr = std::max(c_.rr, kLeastVariance);
    rate_sd_ = std::sqrt(rr);
    t_on_r_ = c_.tr / rr;
    k_on_r_ = c_.rk / rr;
    t_sd_ = std::sqrt(std::max(c_.tt - t_on_r_ * c_.tr, kLeastTemperatureVariance));
    k_sd_ = std::sqrt(std::max(c_.kk - k_on_r_ * c_.rk, kLeastVariance));
  }
  [[nodiscard]] double temperature_c() const { return c_.t_c + c_.r * since_tick_s_; }
  [[nodiscard]] double rate(double z) const { return c_.r + z * rate_sd_; }
  [[nodiscard]] NewtonCourse course(double z_rate, double z_decay, double z_temperature) const {
    const double away = z_rate * rate_sd_;
    const double r = c_.r + away;
    return {c_.t_c + t_on_r_ * away + z_temperature * t_sd_ + r * since_tick_s_, r,
            std::clamp(c_.k + k_on_r_ * away + z_decay * k_sd_, kLeastDecay, kMostDecay)};
  }

 private:
  Hypothesis c_;
  double since_tick_s_;
  double rate_sd_, t_on_r_, k_on_r_, t_sd_, k_sd_;
};

/// Times ahead as the pace of the last levels tells them.
void add_pace(Nodes& nodes, double weight, double temperature_c, const ForecastQuestion& q) {
  const PaceFilter& pace = q.pace;
  const double direction = pace.direction();
  const double edge_passed = pace.level_c() + (q.cell.offset() - direction / 2) * q.cell.step_c;
  double near = direction > 0 ? q.window->low.value : q.window->high.value;
  const double far = direction > 0 ? q.window->high.value : q.window->low.value;
  const bool ahead = direction * (near - temperature_c) > 0;
  const bool behind = direction * (temperature_c - far) > 0;
  if (!ahead && !behind) near = far;
  const auto levels_to = [&](double edge) {
    return std::max(direction * (edge - edge_passed) / q.level_c, kLeastLevels);
  };
  const double near_levels = levels_to(near);
  const double far_levels = levels_to(far);
  const PaceForecast to_near = pace.forecast(near_levels, q.since_passage_s, q.standing);
  const PaceForecast to_far = pace.forecast(far_levels, q.since_passage_s, q.standing);
  for (const double z : kPaceNodes) {
    const auto time = [&](double levels, const PaceForecast& f) {
      return std::max(levels * exp_of(f.mean + f.sd * z) - q.since_passage_s, kLeastAhead_s);
    };
    Visit v;
    if (ahead) {
      v.enter_s = time(near_levels, to_near);
      v.stay_s = std::max(time(far_levels, to_far) - *v.enter_s, kLeastStay_s);
    } else if (!behind) {
      v = {0.0, time(far_levels, to_far)};
    }
    nodes.add(v, weight / kPaceNodes.size(), q.inside_for_s, q.minimum_stay_s);
  }
}

}  // namespace

std::optional<Forecast> forecast(const ForecastQuestion& q) {
  double total = 0;
  for (const Hypothesis& c : q.hypotheses) total += c.share();
  if (total <= 0) return std::nullopt;

  Forecast out;
  Nodes nodes;
  std::array<WeightedValue, WarmingHypotheses::kMost * kRateNodes.size()> rates;
  std::size_t rate_count = 0;
  double followed = 0;
  double inside = 0;
  for (const Hypothesis& c : q.hypotheses) {
    const double weight = c.share() / total;
    if (weight < kNegligible) continue;
    const Spread spread(c, q);
    followed += weight;
    out.temperature_c += weight * spread.temperature_c();
    for (const double z : kRateNodes) rates[rate_count++] = {spread.rate(z), weight};
    if (!q.window) continue;
    const double each = weight / kNodesEach;
    for (const double z_rate : kRateNodes) {
      for (const double z_decay : kThreeNodes) {
        for (const double z_temperature : kThreeNodes) {
          const NewtonCourse course = spread.course(z_rate, z_decay, z_temperature);
          if (course.t_c >= q.window->low.value && course.t_c <= q.window->high.value) inside += each;
          nodes.add(visit(course, *q.window), each * q.smooth_weight, q.inside_for_s, q.minimum_stay_s);
        }
      }
    }
  }
  out.temperature_c /= followed;
  const auto rate = quantiles(std::span(rates).first(rate_count), 0);
  const double widen = std::sqrt(std::max(1.0, q.misfit));
  out.rate = *rate->p50;
  out.rate_low = out.rate - (out.rate - *rate->p10) * widen;
  out.rate_high = out.rate + (*rate->p90 - out.rate) * widen;
  if (!q.window) return out;
  out.inside = inside / followed;
  if (q.smooth_weight < 1) add_pace(nodes, (1 - q.smooth_weight) * followed, out.temperature_c, q);
  nodes.conclude(out);
  return out;
}

}  // namespace sumplog
