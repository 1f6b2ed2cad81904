#include "core/learn/curve_score.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numeric>

#include "core/learn/regression.h"
#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// What a fluid does, and what else is on a bus: own choices, wide where nothing is published.
constexpr double kColdest_c = -40, kHottest_c = 150;
constexpr double kOtherRange_c = 190;     // something else, decoded as a temperature, is anywhere in it
constexpr double kFastest_c_per_s = 0.3;  // 18 K/min: above what converters at stall are reported to do
constexpr double kUnrest_c = 0.4;         // of a sensor
constexpr double kMostJumps = 0.02;
constexpr double kNatsPerJump = 2.5;
constexpr double kLeastRange_c = 4;  // less is no course
constexpr Duration kNeighbours = std::chrono::seconds{5};
constexpr Duration kPaceSpan = std::chrono::seconds{60};

double squared(double x) {
  return x * x;
}
/// Natural logarithm of a normal density.
double log_normal_density(double x, double mean, double spread) {
  constexpr double kLogRootTwoPi = 0.9189385332046727;
  return -0.5 * squared((x - mean) / spread) - log_of(spread) - kLogRootTwoPi;
}
/// ln(exp(a) + exp(b))
double log_sum(double a, double b) {
  const double high = std::max(a, b);
  return high + log_of(exp_of(a - high) + exp_of(b - high));
}

struct Curve {
  const RawCurve* raw;
  const Encoding* encoding;
  double step_c;
  [[nodiscard]] std::size_t size() const { return raw->at.size(); }
  [[nodiscard]] double value(std::size_t i) const { return encoding->value(raw->raw[i]); }
  [[nodiscard]] TimePoint at(std::size_t i) const { return raw->at[i]; }
  [[nodiscard]] double gap_s(std::size_t i) const { return in_seconds(at(i) - at(i - 1)); }
};

std::size_t distinct_values(const RawCurve& curve) {
  std::vector<std::int32_t> sorted = curve.raw;
  std::sort(sorted.begin(), sorted.end());
  return static_cast<std::size_t>(std::unique(sorted.begin(), sorted.end()) - sorted.begin());
}

/// Unrest below what the step and a sensor explain: a field that is too wide has another signal in its low bits.
double smoothness(const Curve& curve, std::size_t jumps) {
  constexpr double kRoundingShare = 0.45;  // of a step: two roundings against one
  constexpr double kSensor_c = 0.12;
  constexpr double kNatsPerKelvin = 25, kMost = 15;
  // Of a warm-up in steps of 1 °C; where it was heard a few times only, every second value is another one.
  const double usual_values = std::min(20.0, static_cast<double>(curve.size()) / 2);
  // Every further value that the curve visits could have been missed by something that only seems to be a number: of two
  // fields that agree the finer one holds, as long as its low bits go along.
  constexpr double kNatsPerFold = 1.6;
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t i = 1; i + 1 < curve.size(); ++i) {
    if (curve.at(i + 1) - curve.at(i - 1) > 2 * kNeighbours) continue;
    const double share = curve.gap_s(i) / in_seconds(curve.at(i + 1) - curve.at(i - 1));
    sum += squared(curve.value(i) - curve.value(i - 1) - share * (curve.value(i + 1) - curve.value(i - 1)));
    ++count;
  }
  const double rough_c = count == 0 ? 0 : std::sqrt(sum / static_cast<double>(count));
  const double above = std::max(0.0, rough_c - kRoundingShare * curve.step_c - kSensor_c);
  return -kNatsPerJump * static_cast<double>(jumps) - std::min(kMost, kNatsPerKelvin * above) +
         kNatsPerFold * log_of(static_cast<double>(distinct_values(*curve.raw)) / usual_values);
}

double level(const Curve& curve) {
  constexpr double kUsual_c = 45, kSpread_c = 25;
  double sum = 0;
  for (std::size_t i = 0; i < curve.size(); ++i) sum += curve.value(i);
  return log_normal_density(sum / static_cast<double>(curve.size()), kUsual_c, kSpread_c) +
         log_of(kOtherRange_c);
}

/// The fastest rise over a minute or somewhat more.
double fastest_c_per_min(const Curve& curve) {
  double fastest = 0;
  std::size_t from = 0;
  for (std::size_t i = 0; i < curve.size(); ++i) {
    while (from + 1 < i && curve.at(i) - curve.at(from + 1) >= kPaceSpan) ++from;
    const Duration span = curve.at(i) - curve.at(from);
    if (span >= kPaceSpan)
      fastest = std::max(fastest, (curve.value(i) - curve.value(from)) / in_seconds(span) * 60);
  }
  return fastest;
}

double pace(const Curve& curve) {
  constexpr double kUsual_c_per_min = 3.2, kSpread = 0.7;  // spread of the logarithm
  constexpr double kSlowest_c_per_min = 0.05,
                   kAnyhow = 7.1;  // something else: evenly in the logarithm, 0.05…60
  const double log_pace = log_of(std::max(kSlowest_c_per_min, fastest_c_per_min(curve)));
  return log_normal_density(log_pace, log_of(kUsual_c_per_min), kSpread) + log_of(kAnyhow);
}

/// The way that the curve goes in all, where moves below `dead_c` do not count.
double way(const Curve& curve, double dead_c) {
  double total = 0, turned = curve.value(0);
  for (std::size_t i = 1; i < curve.size(); ++i) {
    const double moved = std::abs(curve.value(i) - turned);
    if (moved < dead_c) continue;
    total += moved;
    turned = curve.value(i);
  }
  return total;
}

/// Root mean square distance from the straight line through all values, in steps.
double off_straight_steps(const Curve& curve) {
  double n = 0, st = 0, sv = 0, stt = 0, stv = 0, svv = 0;
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const double t = in_seconds(curve.at(i) - curve.at(0));
    const double v = curve.raw->raw[i];
    n += 1, st += t, sv += v, stt += t * t, stv += t * v, svv += v * v;
  }
  const double ctt = stt - st * st / n, ctv = stv - st * sv / n, cvv = svv - sv * sv / n;
  assert(ctt > 0);  // a series has its values a second apart
  return std::sqrt(std::max(0.0, cvv - ctv * ctv / ctt) / n);
}

double course(const Curve& curve, double range_c) {
  constexpr double kFluidExcess = 0.3, kOtherExcess = 2;  // mean of (way / range - 1), both exponential
  constexpr double kDeadSteps = 2.5, kDead_c = 1.2;
  // A warm-up bends: the finer its steps, the less it passes for a straight line.
  constexpr double kCounterSteps = 0.45, kCounterRange = 12, kCounterNats = 2.5, kNatsPerStep = 0.08,
                   kMostNats = 8;
  const double dead_c = std::max(kDead_c, kDeadSteps * curve.step_c);
  const double excess = std::max(0.0, way(curve, dead_c) / range_c - 1);
  double nats = log_of(kOtherExcess / kFluidExcess) - excess / kFluidExcess + excess / kOtherExcess;
  nats = std::max(nats, -15.0);
  const bool counts = range_c / curve.step_c > kCounterRange && off_straight_steps(curve) < kCounterSteps;
  const double beyond = range_c / curve.step_c - kCounterRange;
  return nats - (counts ? std::min(kMostNats, kCounterNats + kNatsPerStep * beyond) : 0);
}

double start(const Curve& curve, const Evidence& evidence, TimePoint begin) {
  const auto soak = cold_soak(evidence, begin);
  if (!soak || curve.at(0) - begin > TimedValues::kLongestPass) return 0;
  const double other = -log_of(kOtherRange_c);
  const double spread = std::sqrt(squared(soak->spread_c) + squared(curve.step_c) / 12);
  const double agrees = log_of(soak->sure) + log_normal_density(curve.value(0), soak->temp_c, spread);
  constexpr double kNeverSure = 0.98;  // a person can be wrong as well
  const double not_sure = 1 - kNeverSure * soak->sure;
  return log_sum(agrees, log_of(not_sure) + other) - other;
}

/// Behind the coolant of a warm-up: how much it rises, and how late.
double lag(const Curve& curve, const Evidence& evidence) {
  constexpr double kLeastRise_c = 15;
  constexpr double kCold_c = 40;  // a warm engine and a colder gearbox rise as they stand to each other
  const auto first = evidence.coolant_c.near(curve.at(0), kNeighbours);
  if (!first || *first > kCold_c) return 0;
  // The coolant's warm-up ends at its thermostat: what comes later says nothing of a lag.
  constexpr double kHot_c = 80;
  std::size_t end = 0;
  double coolant_end = *first;
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const auto coolant = evidence.coolant_c.at(curve.at(i));
    if (!coolant) continue;
    end = i;
    coolant_end = *coolant;
    if (*coolant >= kHot_c) break;
  }
  const double coolant_rise = coolant_end - *first;
  const double rise = curve.value(end) - curve.value(0);
  if (coolant_rise < kLeastRise_c || rise < 2 * curve.step_c) return 0;
  constexpr double kFluidShare = 0.45, kFluidShareSpread = 0.26, kOtherShareRange = 1.4;
  const double share = rise / coolant_rise;
  double nats = log_normal_density(share, kFluidShare, kFluidShareSpread) + log_of(kOtherShareRange);
  // When the coolant has done half of its rise, the fluid has done less than half.
  double half = -1;
  for (std::size_t i = 0; i <= end && half < 0; ++i) {
    const auto coolant = evidence.coolant_c.at(curve.at(i));
    if (coolant && *coolant - *first >= coolant_rise / 2) half = (curve.value(i) - curve.value(0)) / rise;
  }
  constexpr double kFluidHalf = 0.38, kFluidHalfSpread = 0.16, kOtherHalf = 0.5, kOtherHalfSpread = 0.25;
  if (half >= 0)
    nats += log_normal_density(half, kFluidHalf, kFluidHalfSpread) -
            log_normal_density(half, kOtherHalf, kOtherHalfSpread);
  return std::max(nats, -4.0);
}

/// A converter and a pump heat the fluid in proportion to what they carry: its pace follows the driving. What settles by
/// itself, or counts, does not care.
double load(const Curve& curve, const Evidence& evidence) {
  constexpr Duration kBlock = std::chrono::seconds{30};
  constexpr double kDrives_kmh = 5;
  constexpr std::size_t kFewestBlocks = 10;
  std::vector<double> pace, time, level, drive;
  std::size_t from = 0;
  for (std::size_t i = 1; i < curve.size(); ++i) {
    if (curve.at(i) - curve.at(from) < kBlock) continue;
    const auto a = evidence.speed_kmh.at(curve.at(from)), b = evidence.speed_kmh.at(curve.at(i));
    const auto c = evidence.speed_kmh.at(curve.at(from) + (curve.at(i) - curve.at(from)) / 2);
    if (a && b && c) {
      pace.push_back((curve.value(i) - curve.value(from)) / in_seconds(curve.at(i) - curve.at(from)));
      time.push_back(in_seconds(curve.at(from) - curve.at(0)));
      level.push_back(curve.value(from));
      drive.push_back((static_cast<double>(*a > kDrives_kmh) + static_cast<double>(*b > kDrives_kmh) +
                       2 * static_cast<double>(*c > kDrives_kmh)) /
                      4);
    }
    from = i;
  }
  const double driven = std::accumulate(drive.begin(), drive.end(), 0.0);
  const auto blocks = static_cast<double>(pace.size());
  if (pace.size() < kFewestBlocks || driven < 2 || driven > blocks - 2) return 0;
  Regression regression(pace);
  regression.add(time);
  regression.add(level);
  const double without = regression.left();
  const double factor = regression.add(drive);
  const double with = regression.left();
  // A part of a step that nobody sees stays in every pace.
  const double unseen = blocks * squared(curve.step_c / in_seconds(kBlock)) / 12;
  constexpr double kFactors = 4;  // that the fit has, with its constant: so many blocks say nothing
  const double gain =
      0.5 * (blocks - kFactors) * log_of((without + unseen) / (with + unseen)) - 0.5 * log_of(blocks);
  constexpr double kMost = 5, kLeast = -2;
  return factor <= 0 ? kLeast : std::clamp(gain, kLeast, kMost);
}

/// The same curve as a standard parameter's: it is that one once more.
bool is_copy(const Curve& curve, const TimedValues& known) {
  constexpr double kLeastMove_c = 3, kNear_c = 1.6, kShare = 0.97;
  if (known.empty() || known.high() - known.low() < kLeastMove_c) return false;
  std::size_t compared = 0, same = 0;
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const auto other = known.at(curve.at(i));
    if (!other) continue;
    ++compared;
    if (std::abs(curve.value(i) - *other) <= kNear_c + curve.step_c / 2) ++same;
  }
  return compared >= kFewestValues && static_cast<double>(same) >= kShare * static_cast<double>(compared);
}

std::string copied(const Curve& curve, const Evidence& evidence) {
  if (is_copy(curve, evidence.coolant_c)) return "coolant temperature";
  if (is_copy(curve, evidence.oil_c)) return "engine oil temperature";
  if (is_copy(curve, evidence.intake_c)) return "intake air temperature";
  if (is_copy(curve, evidence.ambient_c)) return "ambient temperature";
  return {};
}

/// Readings by hand. A fitted encoding goes through two of them whatever the field is: only further ones count.
double seen(const Curve& curve, const Evidence& evidence) {
  constexpr double kMistakes = 0.03;   // a probe that was read wrongly, or at another place
  constexpr double kNearOther_c = 18;  // something else that warms up is as near as this half of the time
  constexpr double kTiming_s = 8;      // between the look at the probe and the typed time
  if (evidence.seen.empty()) return 0;
  TimedValues values;
  for (std::size_t i = 0; i < curve.size(); ++i) values.add(curve.at(i), curve.value(i));
  double nats = 0;
  std::size_t used = 0;
  for (const SeenTemperature& one : evidence.seen) {
    const auto here = values.near(one.at);
    if (!here) continue;
    if (curve.encoding->fitted && used++ < 2) continue;
    const auto before = values.near(one.at - kPaceSpan / 2);
    const auto after = values.near(one.at + kPaceSpan / 2);
    const double pace_c_per_s = before && after ? (*after - *before) / in_seconds(kPaceSpan) : 0;
    const double spread = std::sqrt(squared(one.error_c * 0.65) + squared(curve.step_c) / 12 +
                                    squared(pace_c_per_s * kTiming_s));
    const double flat = -log_of(kOtherRange_c);
    const double fluid = log_sum(log_of(1 - kMistakes) + log_normal_density(*here, one.temp_c, spread),
                                 log_of(kMistakes) + flat);
    const double other =
        log_sum(log_of(0.5) + flat, log_of(0.5) + log_normal_density(*here, one.temp_c, kNearOther_c));
    nats += fluid - other;
  }
  return nats;
}

}  // namespace

std::string_view text_of(Ground ground) {
  switch (ground) {
    case Ground::smoothness: return "smoothness";
    case Ground::level: return "level";
    case Ground::pace: return "pace";
    case Ground::course: return "course";
    case Ground::start: return "cold start";
    case Ground::lag: return "lag behind the coolant";
    case Ground::load: return "answer to driving";
    case Ground::copy: return "copy";
    case Ground::seen: return "readings by hand";
  }
  return "";
}

double CurveScore::total() const {
  return std::accumulate(nats.begin(), nats.end(), 0.0);
}

double CurveScore::as_temperature() const {
  return (*this)[Ground::smoothness] + (*this)[Ground::level] + (*this)[Ground::course] +
         (*this)[Ground::start] + (*this)[Ground::load];
}

JumpCount::JumpCount(double step_c, std::size_t values)
    : step_c_(step_c),
      most_(std::max<std::size_t>(1, static_cast<std::size_t>(kMostJumps * static_cast<double>(values)))) {}

bool JumpCount::too_many(std::int32_t raw_steps, double gap_s) {
  if (std::abs(raw_steps) * step_c_ > step_c_ + kUnrest_c + kFastest_c_per_s * gap_s) ++count_;
  return count_ > most_;
}

std::optional<CurveScore> score_curve(const RawCurve& raw, const Encoding& encoding, const Evidence& evidence,
                                      TimePoint begin) {
  const double step_c = std::abs(encoding.scale);
  const Curve curve{&raw, &encoding, step_c};
  assert(curve.size() >= kFewestValues);
  const auto [low, high] = std::minmax_element(raw.raw.begin(), raw.raw.end());
  const double a = encoding.value(*low), b = encoding.value(*high);
  const double range_c = std::abs(b - a);
  if (std::min(a, b) < kColdest_c || std::max(a, b) > kHottest_c ||
      range_c < std::max(kLeastRange_c, 3 * step_c))
    return std::nullopt;
  JumpCount jumps(step_c, raw.raw.size());
  for (std::size_t i = 1; i < raw.raw.size(); ++i)
    if (jumps.too_many(raw.raw[i] - raw.raw[i - 1], curve.gap_s(i))) return std::nullopt;
  CurveScore score;
  score[Ground::smoothness] = smoothness(curve, jumps.count());
  score[Ground::level] = level(curve);
  score[Ground::pace] = pace(curve);
  score[Ground::course] = course(curve, range_c);
  score[Ground::start] = start(curve, evidence, begin);
  score[Ground::lag] = lag(curve, evidence);
  score[Ground::load] = load(curve, evidence);
  score[Ground::seen] = seen(curve, evidence);
  constexpr double kCopyNats = -14;
  score.copies = copied(curve, evidence);
  score[Ground::copy] = score.copies.empty() ? 0 : kCopyNats;
  return score;
}

}  // namespace sumplog
