#include "core/thermal/exponential_fit.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <vector>

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

constexpr double kScanFactor = 1.15;  // between two rates that are tried: minima of this model are wider
constexpr int kNarrowings = 40;       // golden section, until the interval is lost in rounding
constexpr double kGolden = 0.618033988749895;
constexpr int kPolishings = 20;       // Gauss–Newton steps after it; mostly three are taken
constexpr double kPolished = 1e-14;   // of the logarithm of the rate
constexpr double kDependent = 1e-13;  // share of independence below which two columns are one

/// One row of the least squares problem, divided by its sd.
struct Row {
  double of_start = 0;
  double of_end = 0;
  double value = 0;
};

/// Start and end as least squares of rows; a figure that is known exactly is no unknown.
class StartAndEnd {
 public:
  StartAndEnd(const CourseQuestion& q, std::span<const Row> rows)
      : fixed_start_(q.start && q.start->sd == 0), fixed_end_(q.end && q.end->sd == 0) {
    for (const Row& row : rows) {
      ss_ += row.of_start * row.of_start;
      se_ += row.of_start * row.of_end;
      ee_ += row.of_end * row.of_end;
    }
    if (fixed_start_) se_ = 0, ss_ = 1;
    if (fixed_end_) se_ = 0, ee_ = 1;
    const double determinant = ss_ * ee_ - se_ * se_;
    determined_ = ss_ > 0 && ee_ > 0 && determinant > kDependent * ss_ * ee_;
    if (!determined_) return;
    start_variance = fixed_start_ ? 0 : ee_ / determinant;
    end_variance = fixed_end_ ? 0 : ss_ / determinant;
    covariance = -se_ / determinant;
  }
  [[nodiscard]] bool determined() const { return determined_; }
  /// Solves for the right-hand sides that `row_value` gives.
  template <class RowValue>
  [[nodiscard]] std::pair<double, double> solve(std::span<const Row> rows, RowValue row_value) const {
    double sy = 0;
    double ey = 0;
    for (const Row& row : rows) {
      sy += row.of_start * row_value(row);
      ey += row.of_end * row_value(row);
    }
    return {start_variance * sy + covariance * ey, covariance * sy + end_variance * ey};
  }

  double start_variance = 0;
  double end_variance = 0;
  double covariance = 0;

 private:
  bool fixed_start_;
  bool fixed_end_;
  bool determined_ = false;
  double ss_ = 0, se_ = 0, ee_ = 0;
};

/// The problem at one rate.
struct AtRate {
  AtRate(const CourseQuestion& q, double rate) {
    rows.reserve(q.samples.size() + 2);
    const double start = q.start && q.start->sd == 0 ? q.start->value : 0;
    const double end = q.end && q.end->sd == 0 ? q.end->value : 0;
    for (const CourseSample& s : q.samples) {
      assert(s.sd > 0);
      const double left = exp_of(-rate * s.at);
      Row row{left / s.sd, (1 - left) / s.sd, s.value / s.sd};
      row.value -= row.of_start * start + row.of_end * end;
      rows.push_back(row);
    }
    if (q.start && q.start->sd > 0) rows.push_back({1 / q.start->sd, 0, q.start->value / q.start->sd});
    if (q.end && q.end->sd > 0) rows.push_back({0, 1 / q.end->sd, q.end->value / q.end->sd});
  }
  std::vector<Row> rows;
};

double prior_misfit(const CourseQuestion& q, double rate) {
  if (!q.log_rate) return 0;
  const double off = (log_of(rate) - q.log_rate->value) / q.log_rate->sd;
  return off * off;
}

/// One Gauss–Newton step of the logarithm of the rate, start and end following it.
struct RateStep {
  double step = 0;
  double sd = 0;
};
std::optional<RateStep> rate_step(const CourseQuestion& q, const CourseFit& fit) {
  const double rate = fit.course.rate;
  const AtRate problem(q, rate);
  const StartAndEnd linear(q, problem.rows);
  assert(linear.determined());  // `fit` is the fit at this rate
  // How each row moves with the logarithm of the rate while start and end stay; rows of what is known do not.
  std::vector<double> moves(problem.rows.size(), 0.0);
  for (std::size_t i = 0; i < q.samples.size(); ++i) {
    const CourseSample& s = q.samples[i];
    moves[i] = (fit.course.start - fit.course.end) * -rate * s.at * exp_of(-rate * s.at) / s.sd;
  }
  const Row* const first = problem.rows.data();
  const auto [start, end] = linear.solve(
      problem.rows, [&](const Row& row) { return moves[static_cast<std::size_t>(&row - first)]; });
  const bool fixed_start = q.start && q.start->sd == 0;
  const bool fixed_end = q.end && q.end->sd == 0;
  double along = 0;
  double square = 0;
  for (std::size_t i = 0; i < problem.rows.size(); ++i) {
    const Row& row = problem.rows[i];
    // What start and end cannot follow.
    const double alone = moves[i] - row.of_start * start - row.of_end * end;
    const double left = row.value - (fixed_start ? 0 : row.of_start * fit.course.start) -
                        (fixed_end ? 0 : row.of_end * fit.course.end);
    along += alone * left;
    square += alone * alone;
  }
  if (q.log_rate) {
    const double weight = 1 / (q.log_rate->sd * q.log_rate->sd);
    along += (q.log_rate->value - log_of(rate)) * weight;
    square += weight;
  }
  if (!(square > 0)) return std::nullopt;
  return RateStep{along / square, 1 / std::sqrt(square)};
}

}  // namespace

double ExponentialCourse::at(double time) const {
  return end + (start - end) * exp_of(-rate * time);
}

std::optional<double> ExponentialCourse::time_at(double value) const {
  if (start == end) return std::nullopt;
  const double left = (value - end) / (start - end);
  if (!(left > 0)) return std::nullopt;
  return -log_of(left) / rate;
}

std::optional<CourseFit> fit_at_rate(const CourseQuestion& q, double rate) {
  assert(rate > 0);
  const AtRate problem(q, rate);
  const StartAndEnd linear(q, problem.rows);
  if (!linear.determined()) return std::nullopt;
  const auto [start, end] = linear.solve(problem.rows, [](const Row& row) { return row.value; });
  CourseFit fit;
  fit.course.rate = rate;
  const bool fixed_start = q.start && q.start->sd == 0;
  const bool fixed_end = q.end && q.end->sd == 0;
  fit.course.start = fixed_start ? q.start->value : start;
  fit.course.end = fixed_end ? q.end->value : end;
  fit.start_variance = linear.start_variance;
  fit.end_variance = linear.end_variance;
  fit.covariance = linear.covariance;
  for (const Row& row : problem.rows) {
    const double left =
        row.value - (fixed_start ? 0 : row.of_start * start) - (fixed_end ? 0 : row.of_end * end);
    fit.misfit += left * left;
  }
  fit.misfit += prior_misfit(q, rate);
  return fit;
}

std::optional<CourseFit> fit_course(const CourseQuestion& q, RateRange range) {
  assert(range.low > 0 && range.high > range.low);
  // Every rate of the range, in steps that no minimum fits between.
  std::optional<CourseFit> best;
  for (double rate = range.low; rate < range.high * kScanFactor; rate *= kScanFactor) {
    const auto fit = fit_at_rate(q, std::min(rate, range.high));
    if (fit && (!best || fit->misfit < best->misfit)) best = fit;
  }
  if (!best || best->course.rate <= range.low || best->course.rate >= range.high) return std::nullopt;

  const auto misfit = [&](double log_rate) {
    const auto fit = fit_at_rate(q, exp_of(log_rate));
    return fit ? fit->misfit : HUGE_VAL;
  };
  double low = log_of(best->course.rate / kScanFactor);
  double high = log_of(best->course.rate * kScanFactor);
  double left = high - kGolden * (high - low);
  double right = low + kGolden * (high - low);
  double at_left = misfit(left);
  double at_right = misfit(right);
  for (int i = 0; i < kNarrowings; ++i) {
    if (at_left < at_right) {
      high = right;
      right = left;
      at_right = at_left;
      left = high - kGolden * (high - low);
      at_left = misfit(left);
    } else {
      low = left;
      left = right;
      at_left = at_right;
      right = low + kGolden * (high - low);
      at_right = misfit(right);
    }
  }
  best = fit_at_rate(q, exp_of((low + high) / 2));
  // The flat bottom of a sum of squares hides half of the digits; the slope of the residuals does not.
  const double farthest = log_of(kScanFactor);
  for (int i = 0; i < kPolishings && best; ++i) {
    const auto step = rate_step(q, *best);
    if (!step) return std::nullopt;
    best->log_rate_sd = step->sd;
    auto next = fit_at_rate(q, best->course.rate * exp_of(std::clamp(step->step, -farthest, farthest)));
    if (!next || next->misfit > best->misfit * (1 + kDependent)) break;
    next->log_rate_sd = step->sd;
    best = next;
    if (std::abs(step->step) < kPolished) break;
  }
  return best;
}

}  // namespace sumplog
