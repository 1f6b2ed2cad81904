#pragma once
#include <optional>
#include <span>

namespace sumplog {

/// A course by Newton's law of cooling: y(t) = end + (start − end) e^(−rate t). Any unit of time.
struct ExponentialCourse {
  double start = 0;  ///< at time 0
  double end = 0;    ///< after for ever
  double rate = 0;   ///< 1 / time constant, > 0

  [[nodiscard]] double at(double time) const;
  /// When it is at `value`; negative: it was there before time 0. Nothing: never.
  [[nodiscard]] std::optional<double> time_at(double value) const;
};

struct CourseSample {
  double at = 0;
  double value = 0;
  double sd = 1;  ///< > 0
};

/// What is known of a figure beforehand: a normal distribution. sd 0: exactly.
struct KnownFigure {
  double value = 0;
  double sd = 0;
};

/// Samples, and what is known beside them; what is absent is free.
struct CourseQuestion {
  std::span<const CourseSample> samples;
  std::optional<KnownFigure> start;
  std::optional<KnownFigure> end;
  std::optional<KnownFigure> log_rate;  ///< natural logarithm of the rate; sd > 0
};

struct CourseFit {
  ExponentialCourse course;
  double misfit = 0;  ///< sum of squares, each in its own sd, of samples and of what was known
  // Covariance of start and end while the rate is held.
  double start_variance = 0;
  double end_variance = 0;
  double covariance = 0;
  double log_rate_sd = 0;  ///< of the logarithm of the rate; 0 from fit_at_rate
};

struct RateRange {
  double low = 0;   ///< > 0
  double high = 0;  ///< > low
};

/// Start and end that fit best when the rate is held: least squares of two unknowns.
/// out  nothing: the samples do not determine them
[[nodiscard]] std::optional<CourseFit> fit_at_rate(const CourseQuestion& question, double rate);

/// Least squares over start, end and rate. The rate is looked for in the whole range, so that a false minimum
/// far from the best one is not taken for it; nobody gives a starting value.
/// out  nothing: the samples do not determine it, or the best rate is an end of the range
/// src  variable projection (Golub and Pereyra 1973, from memory): only the rate is not linear
[[nodiscard]] std::optional<CourseFit> fit_course(const CourseQuestion& question, RateRange range);

}  // namespace sumplog
