#include "core/drawing/round_ticks.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <string>

namespace sumplog {
namespace {

constexpr double kHair = 1e-9;  // of a step: a place on the edge is on it

void place(RoundTicks& ticks, double low, double high) {
  const double first = std::ceil(low / ticks.step - kHair);
  const double last = std::floor(high / ticks.step + kHair);
  for (double n = first; n <= last; n += 1) ticks.places.push_back(n * ticks.step);
}

}  // namespace

RoundTicks round_ticks(double low, double high, int most) {
  constexpr std::array<double, 3> kSteps{1, 2, 5};
  constexpr int kMostDecimals = 3;
  RoundTicks ticks;
  double power = 1;
  for (; ticks.decimals < kMostDecimals && (high - low) / power < most; ++ticks.decimals) power /= 10;
  for (;; power *= 10) {
    for (const double step : kSteps) {
      ticks.step = step * power;
      if ((high - low) / ticks.step + 1 > most + kHair) continue;
      place(ticks, low, high);
      return ticks;
    }
    ticks.decimals = std::max(0, ticks.decimals - 1);
  }
}

RoundTicks round_times(double low_s, double high_s, int most) {
  constexpr std::array<double, 16> kSteps_s{1,   2,   5,   10,   20,   30,   60,    120,
                                            300, 600, 900, 1800, 3600, 7200, 14400, 43200};
  RoundTicks ticks;
  ticks.step = kSteps_s.back();
  for (const double step : kSteps_s)
    if ((high_s - low_s) / step + 1 <= most) {
      ticks.step = step;
      break;
    }
  while ((high_s - low_s) / ticks.step + 1 > most) ticks.step *= 2;
  place(ticks, low_s, high_s);
  return ticks;
}

std::string minutes_text(double seconds, double step_s) {
  constexpr std::int64_t kMinute = 60;
  const auto whole = static_cast<std::int64_t>(std::llround(seconds));
  const std::int64_t rest = whole < 0 ? -whole : whole;
  std::string text = (whole < 0 ? "-" : "") + std::to_string(rest / kMinute);
  if (step_s < static_cast<double>(kMinute)) {
    const std::int64_t s = rest % kMinute;
    text += (s < 10 ? ":0" : ":") + std::to_string(s);
  }
  return text;
}

}  // namespace sumplog
