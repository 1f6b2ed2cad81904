#include "core/thermal/thermometer.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <span>

#include "core/thermal/line_fit.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kThinning = 400ms;    // 90 s of readings at this distance are 227, which fit the ring
constexpr Duration kShortestSpan = 20s;  // below it a step of 1 °C would pass for a rate
constexpr std::size_t kFewestSamples = 5;
constexpr double kEdgeMargin_c =
    0.1;  // the window is entered this far inside its edges, and left at them: no chatter
constexpr double kZ80 = 1.2815515655446004;  // 90 % quantile of the normal distribution: an 80 % interval
constexpr double kZ90 = 1.6448536269514722;  // 95 % quantile: what is announced early
constexpr double kStandingStill = 1e-5;      // °C/s; slower than this no time ahead is told

/// Seconds to cover `distance_c` at `rate` °C/s; nothing: never.
std::optional<double> time_for(double distance_c, double rate) {
  if (distance_c <= 0) return 0.0;
  if (rate < kStandingStill) return std::nullopt;
  return distance_c / rate;
}

}  // namespace

Thermometer::Thermometer(const ThermometerConfig& config) : config_(config) {}

const Thermometer::Sample& Thermometer::newest() const {
  return ring_[(first_ + count_ - 1) % kSamples];
}

void Thermometer::on_reading(TimePoint at, Celsius reading) {
  // The middle of the cell that the reading stands for.
  const double q = config_.step.value;
  const double shift = config_.rounding == Rounding::round   ? 0.0
                       : config_.rounding == Rounding::floor ? q / 2
                                                             : q / 4;
  const Sample sample{at, reading.value + shift};
  while (count_ > 0 && ring_[first_].at < at - kSpan) {
    first_ = (first_ + 1) % kSamples;
    --count_;
  }
  // The newest is always there; it stays for good when it is far enough from the one before it.
  if (count_ >= 2 && newest().at - ring_[(first_ + count_ - 2) % kSamples].at < kThinning) {
    ring_[(first_ + count_ - 1) % kSamples] = sample;
  } else {
    assert(count_ < kSamples);
    ring_[(first_ + count_) % kSamples] = sample;
    ++count_;
  }
  judge_side();
}

void Thermometer::forget() {
  if (count_ > 1) {
    first_ = (first_ + count_ - 1) % kSamples;
    count_ = 1;
  }
}

std::optional<Thermometer::Line> Thermometer::line() const {
  if (count_ < kFewestSamples || newest().at - ring_[first_].at < kShortestSpan) return std::nullopt;
  // Seen from the newest reading: a constant course then gives exactly its own value and no rate.
  const Sample end = newest();
  std::array<LinePoint, kSamples> points;
  double changes = 0;
  for (std::size_t i = 0; i < count_; ++i) {
    const Sample& s = ring_[(first_ + i) % kSamples];
    points[i] = {in_seconds(s.at - end.at), s.value_c - end.value_c};
    if (i > 0 && points[i].y != points[i - 1].y) ++changes;
  }
  const FittedLine fit = fit_line(std::span(points).first(count_));
  const auto n = static_cast<double>(count_);
  Line line;
  line.slope_c_per_s = fit.slope;
  line.at_end_c = end.value_c + fit.at_zero;
  const double residual = fit.squares_residual / std::max(1.0, n - 2);
  const double cell = config_.step.value * config_.step.value / 12;  // variance of a uniform cell
  // Repeated readings of one step are one observation, not many: only changes count.
  const double observations = std::min(n, changes + 2);
  line.slope_error = std::sqrt(std::max(residual, cell) / observations / (fit.squares_x / n));
  return line;
}

void Thermometer::judge_side() {
  if (!config_.window) return;
  const auto now = estimate();
  const double t = now->temperature.value;
  const double low = config_.window->low.value;
  const double high = config_.window->high.value;
  const double margin = std::min(kEdgeMargin_c, (high - low) / 4);
  // A side that the fluid came from is left only beyond the margin of that side's own edge.
  const bool near_low = side_ == WindowState::below && t < low + margin;
  const bool near_high = side_ == WindowState::above && t > high - margin;
  if (t < low || near_low)
    side_ = WindowState::below;
  else if (t > high || near_high)
    side_ = WindowState::above;
  else
    side_ = WindowState::inside;
}

std::optional<ThermalEstimate> Thermometer::estimate() const {
  if (count_ == 0) return std::nullopt;
  ThermalEstimate out;
  const double centre = newest().value_c;
  const double half = config_.step.value / 2;
  const auto fit = line();
  out.temperature.value = fit ? std::clamp(fit->at_end_c, centre - half, centre + half) : centre;
  out.side = side_;
  if (!fit) return out;

  const double rate = fit->slope_c_per_s;
  const double spread = kZ80 * fit->slope_error;
  out.rate = CelsiusPerMinute{rate * 60};
  out.rate_low = CelsiusPerMinute{(rate - spread) * 60};
  out.rate_high = CelsiusPerMinute{(rate + spread) * 60};
  out.falling = out.rate_high->value < 0;
  if (!config_.window) {
    out.fast = config_.rate_limit && out.rate->value > config_.rate_limit->value;
    return out;
  }
  const double t = out.temperature.value;
  const double low = config_.window->low.value;
  const double high = config_.window->high.value;
  const bool inside = side_ == WindowState::inside;
  // Outside, the near edge is ahead when the fluid moves towards the window; inside, the edge that it moves
  // to.
  const double direction = inside ? (rate >= 0 ? 1.0 : -1.0) : (side_ == WindowState::below ? 1.0 : -1.0);
  const double to_window = inside ? 0.0 : (direction > 0 ? low - t : t - high);
  const double to_leave = inside ? (direction > 0 ? high - t : t - low) : high - low;
  const auto ahead = [&](double distance, double z) {
    return time_for(distance, direction * rate - z * fit->slope_error);
  };
  out.enter_in_s = Quantiles{ahead(to_window, -kZ80), ahead(to_window, 0), ahead(to_window, kZ80)};
  out.announce_in_s = ahead(to_window, -kZ90);
  if (inside || (*out.enter_in_s)[1])
    out.stay_s = Quantiles{ahead(to_leave, -kZ80), ahead(to_leave, 0), ahead(to_leave, kZ80)};
  const bool short_stay =
      out.stay_s && (*out.stay_s)[1] && !inside && *(*out.stay_s)[1] < in_seconds(config_.minimum_stay);
  out.fast = short_stay || (config_.rate_limit && out.rate->value > config_.rate_limit->value);
  return out;
}

}  // namespace sumplog
