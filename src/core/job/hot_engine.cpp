#include "core/job/hot_engine.h"

#include <algorithm>
#include <cmath>

#include "core/item/json_line.h"
#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// Common practice, no source.
constexpr double kHotter_c = 30;  // coolant above fluid: from here on the rate will exceed any forecast
constexpr double kTimeConstant_s =
    288;  // of fluid beside coolant of 88 °C: 35…45 °C last a minute, 30…50 °C two
constexpr double kUncertain = 1.5;  // so rough is it: warned of is whatever may be shorter than the minimum

constexpr double kMinute_s = 60;

/// "less than 1 min", "about 1.5 min".
std::string minutes_text(double seconds) {
  const double halves = std::round(2 * seconds / kMinute_s);
  if (halves < 2) return "less than 1 min";
  const double minutes = halves / 2;
  return "about " + fixed(minutes, minutes == std::floor(minutes) ? 0 : 1) + " min";
}

}  // namespace

std::optional<std::string> hot_engine_warning(const HotEngineSituation& s) {
  const bool hot = (s.coolant - s.fluid).value > kHotter_c ||
                   (s.coolant_limit && s.coolant > *s.coolant_limit && s.coolant > s.fluid);
  if (!hot || s.fluid > s.window.high) return std::nullopt;
  std::optional<double> stay_s = s.foretold_stay_s;
  if (!stay_s || !s.engine_warms_it_long) {
    if (s.coolant <= s.window.high) return std::nullopt;
    // Newton's law towards the coolant.
    const Celsius from = std::max(s.fluid, s.window.low);
    const double by_coolant =
        kTimeConstant_s * log_of((s.coolant - from).value / (s.coolant - s.window.high).value);
    stay_s = std::min(stay_s.value_or(by_coolant), by_coolant);
  }
  if (*stay_s >= kUncertain * s.minimum_stay_s) return std::nullopt;
  return "hot engine: coolant " + fixed(s.coolant.value, 0) + " °C, fluid " + fixed(s.fluid.value, 0) +
         " °C: the window will last " + minutes_text(*stay_s) +
         "; the plug stays in, let the engine cool first";
}

}  // namespace sumplog
