#include "core/thermal/pace_filter.h"

#include <algorithm>
#include <cmath>

#include "core/thermal/elementary.h"
#include "core/thermal/truncated_normal.h"

namespace sumplog {
namespace {

// Own research (docs/thermometer.md): how ln(seconds per degree) wanders in transmissions on the road.
constexpr double kFastSd = 0.55;
constexpr double kFastKept = 0.7;    // from level to level
constexpr double kSlowWalk = 0.2;    // sd from level to level
constexpr double kSlowDrift = 0.02;  // each level takes a little longer: the law of cooling
constexpr double kNoise = 0.3;
constexpr double kClockNoise = 0.17;  // s²: a passage is seen up to a tick late
constexpr double kFirstSd = 0.5;
constexpr double kEventSd = 0.3;        // what an announced change of course adds
constexpr double kStanding = 0.75;      // of the spread, while the vehicle is known to stand
constexpr double kLeastPace_s = 0.5;    // per level
constexpr double kTurnedRound = 1.999;  // levels back
constexpr double kMostLevelsAtOnce = 5;
constexpr double kWaitCounts_s = 1;
constexpr double kNeverLn = 50;  // ln seconds: beyond any wait
constexpr double kLeastVariance = 1e-4;
constexpr double kTiny = 2e-3;  // of a level: steps are told, and written in tables, with few digits

constexpr double square(double x) {
  return x * x;
}

}  // namespace

void PaceFilter::State::predict() {
  fast *= kFastKept;
  ss += square(kSlowWalk);
  sf *= kFastKept;
  ff = square(kFastKept) * ff + square(kFastSd) * (1 - square(kFastKept));
}

void PaceFilter::restart(double at_s, double reading_c) {
  *this = {};
  level_c_ = reading_c;
  passed_at_s_ = at_s;
}

bool PaceFilter::on_reading(double at_s, double reading_c, double level_c) {
  const auto begin = [&](double direction) {
    direction_ = direction;
    level_c_ = reading_c;
    passed_at_s_ = at_s;
    passages_ = 0;
    return true;
  };
  if (direction_ == 0) {
    if (reading_c == level_c_) return false;
    return begin(reading_c > level_c_ ? 1 : -1);
  }
  const double moved = direction_ * (reading_c - level_c_);
  if (moved <= -kTurnedRound * level_c) return begin(-direction_);
  if (moved < level_c * (1 - kTiny)) return false;
  const double levels = std::floor(moved / level_c + kTiny);
  learn(std::max((at_s - passed_at_s_) / levels, kLeastPace_s), static_cast<int>(std::min(levels, 1e6)));
  ++passages_;
  level_c_ += direction_ * levels * level_c;
  if (std::abs(reading_c - level_c_) <= kTiny * levels * level_c) level_c_ = reading_c;
  passed_at_s_ = at_s;
  return true;
}

void PaceFilter::learn(double seconds_per_level, int levels) {
  const double seen = log_of(seconds_per_level);
  const double noise = square(kNoise) / levels + kClockNoise / square(seconds_per_level);
  if (passages_ == 0) {
    state_ = {seen, 0, square(kFastSd) + noise + square(kFirstSd), -square(kFastSd), square(kFastSd)};
    return;
  }
  for (int i = 0; i < std::min(levels, static_cast<int>(kMostLevelsAtOnce)); ++i) {
    state_.slow += kSlowDrift;
    state_.predict();
  }
  const double g0 = state_.ss + state_.sf;
  const double g1 = state_.sf + state_.ff;
  const double variance = g0 + g1 + noise;
  const double misfit = seen - state_.slow - state_.fast;
  state_.slow += g0 / variance * misfit;
  state_.fast += g1 / variance * misfit;
  state_.ss -= g0 * g0 / variance;
  state_.sf -= g0 * g1 / variance;
  state_.ff -= g1 * g1 / variance;
}

void PaceFilter::loosen() {
  state_.ss += square(kEventSd);
  state_.ff += square(kEventSd);
}

PaceForecast PaceFilter::forecast(double levels, double waited_s, bool standing) const {
  State s = state_;
  s.predict();
  if (waited_s > kWaitCounts_s) {
    // The level on the way takes at least as long as it has taken already.
    const double sd = std::sqrt(s.ss + 2 * s.sf + s.ff + square(kNoise));
    const Truncation cut = truncated(s.slow + s.fast, sd, log_of(waited_s), kNeverLn);
    if (cut.probability < kNothingNew) {
      const double g0 = (s.ss + s.sf) / sd;
      const double g1 = (s.sf + s.ff) / sd;
      s.slow += g0 * cut.shift;
      s.fast += g1 * cut.shift;
      s.ss -= g0 * g0 * cut.reduction;
      s.sf -= g0 * g1 * cut.reduction;
      s.ff -= g1 * g1 * cut.reduction;
    }
  }
  const double n = std::max(levels, 1.0);
  const double ln_kept = log_of(kFastKept);
  const double a = (1 - exp_of(ln_kept * n)) / (n * (1 - kFastKept));  // mean weight of the fast part
  double variance = s.ss + 2 * a * s.sf + a * a * s.ff;
  const double later = n - 1;
  if (later > 0) {
    // What both parts still do on the way, and the reading noise of the end.
    const double e = (1 - exp_of(ln_kept * later)) / ln_kept;
    variance +=
        square(kFastSd) * (2 * (later + e) / -ln_kept - e * e) / (n * n) + square(kSlowWalk) * later / 3;
  }
  variance += square(kNoise) / (n * n) / 2;
  const double scale = standing ? kStanding : 1;
  return {s.slow + a * s.fast + kSlowDrift * (n + 1) / 2,
          std::sqrt(std::max(variance, kLeastVariance)) * scale};
}

}  // namespace sumplog
