#include "core/learn/next_look.h"

#include <algorithm>
#include <functional>

#include "core/item/json_line.h"
#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

constexpr double kLeastGain_bits = 0.1;  // less is not worth a walk to the car
constexpr double kNoneRange_c = 60;      // where a reading may lie when none of the signals is it

double entropy_bits(const std::vector<double>& shares) {
  constexpr double kNatsPerBit = 0.6931471805599453;
  double sum = 0;
  for (const double p : shares)
    if (p > 0) sum -= p * log_of(p) / kNatsPerBit;
  return sum;
}

/// Expected fall of the entropy.
/// in   shares  of the signals, and last of none
///      likelihood  of the observation that would be made if `truth` held, under `other`
double gain_bits(const std::vector<double>& shares,
                 const std::function<double(std::size_t truth, std::size_t other)>& likelihood) {
  double expected = 0;
  for (std::size_t truth = 0; truth < shares.size(); ++truth) {
    std::vector<double> after;
    double sum = 0;
    for (std::size_t other = 0; other < shares.size(); ++other) {
      after.push_back(shares[other] * likelihood(truth, other));
      sum += after.back();
    }
    for (double& p : after) p /= sum;
    expected += shares[truth] * entropy_bits(after);
  }
  return entropy_bits(shares) - expected;
}

/// A reading of the probe at which the signals stand at `values`.
double gain_of_reading(const std::vector<double>& shares, const std::vector<double>& values) {
  const double spread = SeenTemperature::kUsualError_c;
  const std::size_t none = values.size();
  return gain_bits(shares, [&](std::size_t truth, std::size_t other) {
    if (other == none || truth == none) return other == truth ? 1.0 : spread / kNoneRange_c;
    const double apart = (values[truth] - values[other]) / spread;
    return std::max(exp_of(-0.5 * apart * apart), 1e-6);
  });
}

bool was_driven(const Evidence& evidence) {
  constexpr double kDrives_kmh = 5;
  return !evidence.speed_kmh.empty() && evidence.speed_kmh.high() > kDrives_kmh;
}

}  // namespace

std::vector<NextLook> next_looks(const SearchResult& result, const Evidence& evidence) {
  if (result.signals.empty() || result.confident()) return {};
  std::vector<double> shares, now, pace_c_per_s;
  for (const FoundSignal& one : result.signals) {
    shares.push_back(one.probability);
    now.push_back(one.last_c);
    pace_c_per_s.push_back((one.last_c - one.first_c) / std::max(1.0, in_seconds(result.end - result.begin)));
  }
  double rest = 1;
  for (const double p : shares) rest -= p;
  shares.push_back(std::max(rest, 1e-9));

  std::vector<NextLook> looks;
  looks.push_back({"read the probe now", gain_of_reading(shares, now)});
  // Later, signals of other scales are further apart.
  constexpr double kAhead_c = 8, kLongest_s = 1800;
  for (const double target : {30.0, 45.0, 60.0, 75.0}) {
    if (target < now.front() + kAhead_c || pace_c_per_s.front() <= 0) continue;
    const double wait_s = (target - now.front()) / pace_c_per_s.front();
    if (wait_s > kLongest_s) break;
    std::vector<double> then;
    for (std::size_t i = 0; i < now.size(); ++i) then.push_back(now[i] + pace_c_per_s[i] * wait_s);
    looks.push_back(
        {"read the probe again at about " + fixed(target, 0) + " °C", gain_of_reading(shares, then)});
  }
  if (!was_driven(evidence)) {
    // The true one rises faster while the converter works; others do so now and then.
    constexpr double kAnswers = 0.85, kOthersAnswer = 0.25;
    looks.push_back(
        {"drive 3 min, and record it", gain_bits(shares, [](std::size_t truth, std::size_t other) {
           return other == truth ? kAnswers : kOthersAnswer;
         })});
  }
  if (evidence.coolant_c.empty())
    looks.push_back({"record the coolant temperature as well", kLeastGain_bits});
  std::stable_sort(looks.begin(), looks.end(),
                   [](const NextLook& a, const NextLook& b) { return a.gain_bits > b.gain_bits; });
  while (!looks.empty() && looks.back().gain_bits < kLeastGain_bits) looks.pop_back();
  return looks;
}

}  // namespace sumplog
