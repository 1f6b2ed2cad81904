#include "core/thermal/warming_hypotheses.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// Own research (docs/thermometer.md) where no other source is named.
constexpr double kMinute_s = 60;
constexpr double kLongestStep_s = 5;           // of the prediction
constexpr double kRateNoise = 0.03;            // of the rate itself, per √min
constexpr double kRateNoise_c_per_min = 0.01;  // beside it, per √min
constexpr double kTemperatureNoise_c = 0.002;  // per √s
constexpr double kDecayNoise = 0.1;            // of k itself, in kDecayMemory_s
constexpr double kDecayMemory_s = 600;
constexpr double kLeastDecay = 1.0 / 3600;  // 1/s: a time constant of an hour
constexpr double kMostDecay = 1.0 / 300;    // five minutes

constexpr double kFirstRateSd = 2.5 / kMinute_s;  // °C/s
constexpr double kFirstRate = 1.0 / kMinute_s;
constexpr double kFirstStillSd = 0.4 / kMinute_s;
constexpr double kFirstMovingWeight = 0.7;
constexpr double kFirstVariance = 1e-4;          // beside that of the cell, °C²
constexpr double kDecay = 1.0 / 17 / kMinute_s;  // prior of k
constexpr double kDecaySd = 1.0 / 30 / kMinute_s;

constexpr double kChangedRateSd = 1.5 / kMinute_s;  // after a change of course: half the rate, this far
constexpr double kStandingRate = -0.15 / kMinute_s;
constexpr double kStandingRateSd = 0.3 / kMinute_s;
constexpr double kStandingShare = 0.18;  // of the changed courses
constexpr double kLeastVariance = 1e-4;  // °C²
constexpr double kNegligible = 1e-6;     // of the largest share

constexpr double kKnownToACell = 0.25;  // steps; T closer known than this: the cell is committed at once
constexpr double kNeighbour = 1.6;      // steps; a larger change of the reading crosses more than one edge
constexpr double kEdgeNoise = 1.2;      // of the sensor's: an edge is met between two ticks
constexpr double kEdgeDensity = 2.5;    // width of an edge in sensor noises: density to probability
constexpr double kLargestMisfit = 60;   // squared sigmas; beyond it all are equally bad
constexpr double kUnlikelyEdge = 1e-9;  // what keeps a hypothesis alive at an edge that it did not expect
constexpr double kUnlikelyFine = 1e-12;
constexpr double kLeastEvidence = 1e-12;

constexpr double square(double x) {
  return x * x;
}

/// P H' for H = [1 h 0]
struct Gain {
  double t, r, k;
};
Gain gain(const Hypothesis& c, double h) {
  return {c.tt + h * c.tr, c.tr + h * c.rr, c.tk + h * c.rk};
}

void apply(Hypothesis& c, const Gain& g, double by, double reduction) {
  c.t_c += g.t * by;
  c.r += g.r * by;
  c.k += g.k * by;
  c.tt -= g.t * g.t * reduction;
  c.tr -= g.t * g.r * reduction;
  c.tk -= g.t * g.k * reduction;
  c.rr -= g.r * g.r * reduction;
  c.rk -= g.r * g.k * reduction;
  c.kk -= g.k * g.k * reduction;
  c.k = std::clamp(c.k, kLeastDecay, kMostDecay);
}

/// Likelihood of a misfit, without 1/√2π.
double likelihood(double misfit, double variance) {
  return exp_of(-0.5 * std::min(misfit * misfit / variance, kLargestMisfit)) / std::sqrt(variance);
}

void predict(Hypothesis& c, double h) {
  const double f = exp_of(-c.k * h);
  const double g = (1 - f) / c.k;
  const double a = c.r * (h * f - g) / c.k;
  const double b = -c.r * h * f;
  c.t_c += g * c.r;
  c.r *= f;
  const double a0 = c.tt + g * c.tr + a * c.tk;
  const double a1 = c.tr + g * c.rr + a * c.rk;
  const double a2 = c.tk + g * c.rk + a * c.kk;
  const double b1 = f * c.rr + b * c.rk;
  const double b2 = f * c.rk + b * c.kk;
  const double noise = kRateNoise * std::abs(c.r) + kRateNoise_c_per_min / kMinute_s;
  c.tt = a0 + g * a1 + a * a2 + square(kTemperatureNoise_c) * h;
  c.tr = f * a1 + b * a2;
  c.tk = a2;
  c.rr = f * b1 + b * b2 + square(noise) * h / kMinute_s;
  c.rk = b2;
  c.kk += square(kDecayNoise * c.k) * h / kDecayMemory_s;
}

Hypothesis fresh(double t_c, double variance, double rate, double rate_sd, double weight) {
  Hypothesis c;
  c.t_c = t_c;
  c.tt = variance;
  c.r = rate;
  c.rr = square(rate_sd);
  c.k = kDecay;
  c.kk = square(kDecaySd);
  c.weight = weight;
  return c;
}

double sensor_sd(const Hypothesis& c) {
  return std::sqrt(c.tt + square(kCoarseNoise_c));
}

/// Takes in the crossing of an edge, half way between two ticks.
void cross_edge(Hypothesis& c, double edge_c, double seconds) {
  const double half = seconds / 2;
  const Gain g = gain(c, -half);
  const double noise = square(kEdgeNoise * kCoarseNoise_c) + square(c.r * seconds) / 12;
  const double variance = g.t - half * g.r + noise;
  const double misfit = edge_c - (c.t_c - half * c.r);
  c.weight *= likelihood(misfit, variance) * kCoarseNoise_c * kEdgeDensity + kUnlikelyEdge * c.evidence;
  c.evidence = 1;
  apply(c, g, misfit / variance, 1 / variance);
}

void take_cell(Hypothesis& c, const SensorCell& cell) {
  const double sd = sensor_sd(c);
  const Truncation cut = truncated(c.t_c, sd, cell.low_c(), cell.high_c());
  c.weight *= cut.probability * c.evidence;
  c.evidence = 1;
  c.commit(cut, sd);
}

void bear_witness(Hypothesis& c, const SensorCell& cell) {
  const double sd = sensor_sd(c);
  const double inside = standard_normal((cell.high_c() - c.t_c) / sd).below -
                        standard_normal((cell.low_c() - c.t_c) / sd).below;
  if (inside < c.evidence) c.evidence = std::max(inside, kLeastEvidence);
}

}  // namespace

void Hypothesis::commit(const Truncation& cut, double sd) {
  if (cut.probability >= kNothingNew) return;
  const Gain g = gain(*this, 0);
  apply(*this, {g.t / sd, g.r / sd, g.k / sd}, cut.shift, cut.reduction);
}

void WarmingHypotheses::restart(const SensorCell& cell) {
  count_ = 0;
  frozen_ = 0;
  const double variance = square(cell.step_c) / 12 + kFirstVariance;
  add(fresh(cell.middle_c(), variance, kFirstRate, kFirstRateSd, kFirstMovingWeight));
  add(fresh(cell.middle_c(), variance, 0, kFirstStillSd, 1 - kFirstMovingWeight));
}

void WarmingHypotheses::advance(double seconds) {
  while (seconds > 1e-9) {
    const double h = std::min(seconds, kLongestStep_s);
    seconds -= h;
    for (Hypothesis& c : std::span(hypotheses_).first(count_)) predict(c, h);
  }
}

void WarmingHypotheses::take_fine(double mean_c, double step_c) {
  const double noise = square(kFineNoise_c) + square(step_c) / 12;
  for (Hypothesis& c : std::span(hypotheses_).first(count_)) {
    const Gain g = gain(c, 0);
    const double variance = g.t + noise;
    const double misfit = mean_c - c.t_c;
    c.weight *= c.evidence * likelihood(misfit, variance) + kUnlikelyFine;
    c.evidence = 1;
    apply(c, g, misfit / variance, 1 / variance);
  }
  frozen_ = 0;
  normalise();
}

void WarmingHypotheses::take_coarse(const SensorCell& cell, double before_c, double seconds) {
  const double step = cell.step_c;
  const bool changed = cell.reading_c != before_c;
  const bool neighbour = changed && std::abs(cell.reading_c - before_c) < kNeighbour * step;
  const double edge_c = cell.rounding == Rounding::floor
                            ? std::max(cell.reading_c, before_c)
                            : (cell.reading_c + before_c) / 2 + cell.offset() * step;
  const double known = square(kKnownToACell * step);
  for (Hypothesis& c : std::span(hypotheses_).first(count_)) {
    // Committing the same cell again and again would shrink it to a false point; an edge counts once.
    if (neighbour && c.tt > known) {
      cross_edge(c, edge_c, seconds);
    } else if (changed || c.tt <= known) {
      take_cell(c, cell);
    } else {
      bear_witness(c, cell);
    }
  }
  if (changed) frozen_ = 0;
  normalise();
}

void WarmingHypotheses::branch(const SensorCell& cell, double changed, double frozen) {
  double sum = 0;
  double t1 = 0;
  double t2 = 0;
  double rate = 0;
  for (const Hypothesis& c : all()) {
    double t = c.t_c;
    double r = c.r;
    double variance = c.tt;
    if (!cell.fine()) {
      const double sd = sensor_sd(c);
      const Truncation cut = truncated(c.t_c, sd, cell.low_c(), cell.high_c());
      t += c.tt / sd * cut.shift;
      r += c.tr / sd * cut.shift;
      variance -= square(c.tt / sd) * cut.reduction;
    }
    const double share = c.share();
    t1 += share * t;
    t2 += share * (t * t + variance);
    rate += share * r;
    sum += share;
  }
  if (sum <= 0) return;
  t1 /= sum;
  rate /= sum;
  const double variance = std::max(t2 / sum - t1 * t1, kLeastVariance);
  for (Hypothesis& c : std::span(hypotheses_).first(count_)) c.weight *= 1 - changed;
  frozen_ += frozen * sum;
  add(fresh(t1, variance, rate / 2, kChangedRateSd, changed * sum * (1 - kStandingShare)));
  add(fresh(t1, variance, kStandingRate, kStandingRateSd, changed * sum * kStandingShare));
  prune();
  normalise();
}

double WarmingHypotheses::total() const {
  double sum = 0;
  for (const Hypothesis& c : all()) sum += c.share();
  return sum;
}

double WarmingHypotheses::frozen() const {
  return frozen_ > 0 ? frozen_ / (frozen_ + total()) : 0;
}

RateMoments WarmingHypotheses::rate() const {
  double sum = 0;
  double r1 = 0;
  double r2 = 0;
  for (const Hypothesis& c : all()) {
    sum += c.share();
    r1 += c.share() * c.r;
    r2 += c.share() * (c.r * c.r + c.rr);
  }
  if (sum <= 0) return {};
  r1 /= sum;
  return {r1, std::max(r2 / sum - r1 * r1, 0.0)};
}

void WarmingHypotheses::normalise() {
  const double sum = frozen_ + total();
  if (sum <= 0) return;
  for (Hypothesis& c : std::span(hypotheses_).first(count_)) c.weight /= sum;
  frozen_ /= sum;
}

void WarmingHypotheses::prune() {
  double top = 0;
  for (const Hypothesis& c : all()) top = std::max(top, c.share());
  std::size_t kept = 0;
  for (std::size_t i = 0; i < count_; ++i)
    if (hypotheses_[i].share() >= kNegligible * top) hypotheses_[kept++] = hypotheses_[i];
  count_ = kept;
}

void WarmingHypotheses::add(const Hypothesis& one) {
  if (count_ < kMost) {
    hypotheses_[count_++] = one;
    return;
  }
  const auto weakest =
      std::min_element(hypotheses_.begin(), hypotheses_.end(),
                       [](const Hypothesis& a, const Hypothesis& b) { return a.share() < b.share(); });
  if (weakest->share() <= one.weight) *weakest = one;
}

}  // namespace sumplog
