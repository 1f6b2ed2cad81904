#include "core/thermal/track_record.h"

#include <algorithm>
#include <cmath>

#include "core/thermal/elementary.h"
#include "core/thermal/sensor_cell.h"

namespace sumplog {
namespace {

// Own research (docs/thermometer.md).
constexpr double kPrior = 6;         // passages that a good record is taken for at the beginning
constexpr double kKept = 0.97;       // from passage to passage
constexpr double kWorst = 16;        // squared sigmas; one surprise does not spoil a record for good
constexpr double kGoodRecord = 1.4;  // up to here all smooth
constexpr double kBadRecord = 2.1;   // from here on all pace
constexpr double kKeptAtEvent = 0.3;
constexpr double kMostSmoothWhileMoving = 0.3;
constexpr double kRateNoise = 0.03;      // per √min, as the hypotheses have it
constexpr double kUnevenSteps = 0.15;    // sd, in steps, of a learnt converter step
constexpr double kMostRateVariance = 1;  // of the rate's own square
constexpr double kLeastPace_s = 0.5;

constexpr double square(double x) {
  return x * x;
}

}  // namespace

void TrackRecord::on_passage(const Passage& p, const RateMoments& rate) {
  if (promised_variance_ > 0 && promised_from_s_ == p.since_s && p.one_level) {
    const double took = std::max(p.at_s - p.since_s, kLeastPace_s);
    const double misfit = log_of(took) - promised_ln_s_;
    // A level is seen at the end of a tick: a long tick (a gap) is no misfit.
    const double clock = (square(p.tick_s) + square(promised_tick_s_)) / (12 * square(took));
    sum_ = kKept * sum_ + std::min(square(misfit) / (promised_variance_ + clock), kWorst);
    count_ = kKept * count_ + 1;
  }
  promised_from_s_ = p.at_s;
  promised_tick_s_ = p.tick_s;
  promised_variance_ = 0;
  if (rate.mean * p.direction <= 0) return;
  const double expected = p.level_c / std::abs(rate.mean);
  promised_ln_s_ = log_of(expected);
  promised_variance_ = std::min(rate.variance / square(rate.mean), kMostRateVariance) +
                       2 * square(kCoarseNoise_c / p.level_c) + 0.5 * square(kRateNoise) * expected / 60 +
                       (p.learnt_step ? square(kUnevenSteps) : 0);
}

void TrackRecord::forgive() {
  sum_ *= kKeptAtEvent;
  count_ *= kKeptAtEvent;
}

double TrackRecord::misfit() const {
  return (kPrior + sum_) / (kPrior + count_);
}

double TrackRecord::smooth_weight(bool moving) const {
  const double weight = std::clamp((kBadRecord - misfit()) / (kBadRecord - kGoodRecord), 0.0, 1.0);
  return moving ? std::min(weight, kMostSmoothWhileMoving) : weight;
}

}  // namespace sumplog
