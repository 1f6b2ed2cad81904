#include "core/job/verdict_words.h"

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr double kTenths_s = 10;    // below, a tenth of a second is told
constexpr double kMinutes_s = 120;  // from here on, minutes
constexpr double kMinute_s = 60;

}  // namespace

std::string seconds_words(Duration time) {
  const double seconds = in_seconds(time);
  if (seconds >= kMinutes_s) return fixed(seconds / kMinute_s, 0) + " min";
  return fixed(seconds, seconds < kTenths_s ? 1 : 0) + " s";
}

std::string spells_words(const std::vector<Spell>& spells, TimePoint plug_out) {
  std::size_t stretches = 0;
  TimePoint before = TimePoint::min();
  for (const Spell& one : spells) {
    if (one.from != before) ++stretches;
    before = one.to;
  }
  std::string text = "for " + seconds_words(lasted(spells));
  text += stretches > 1 ? " in " + std::to_string(stretches) + " stretches, the first " : ", ";
  const Duration after = spells.front().since - plug_out;
  return text + (after > Duration{0} ? seconds_words(after) + " after plug out" : "from plug out on");
}

std::string temperatures_words(const VerdictEvent& verdict,
                               const std::function<std::string(double celsius)>& degrees) {
  std::vector<std::string> words;
  const auto add = [&](const char* what, const std::optional<double>& c) {
    if (c) words.push_back(what + degrees(*c));
  };
  add("plug out ", verdict.temp_out_c);
  add("decision ", verdict.temp_decision_c);
  add("plug in ", verdict.temp_in_c);
  add("lowest ", verdict.temp_low_c);
  add("highest ", verdict.temp_high_c);
  return joined(words, ", ");
}

std::string seen_words(const LevelSeen& seen) {
  std::string text = seen.flow;
  if (seen.ml_in_10_s) text += ", " + fixed(*seen.ml_in_10_s, 1) + " mL in 10 s";
  if (!seen.by.empty()) text += ", by " + seen.by;
  if (!seen.criterion.empty()) text += "; asked for: " + seen.criterion;
  if (seen.reached) text += *seen.reached ? " (reached)" : " (not reached)";
  return text;
}

}  // namespace sumplog
