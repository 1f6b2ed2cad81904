#pragma once
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "core/job/spells.h"
#include "core/journal/event.h"

namespace sumplog {

/// "4.5 s", "12 s", "3 min"
[[nodiscard]] std::string seconds_words(Duration time);

/// How long something did not hold and when: "for 12 s, 31 s after plug out", "for 4.0 s in 2 stretches, the first from plug
/// out on".
/// in   spells  at least one, oldest first; those without a pause between them are one stretch
[[nodiscard]] std::string spells_words(const std::vector<Spell>& spells, TimePoint plug_out);

/// "plug out 36.0 °C, plug in 39.0 °C": those that are known.
/// in   degrees  how a temperature is written
[[nodiscard]] std::string temperatures_words(const VerdictEvent& verdict,
                                             const std::function<std::string(double celsius)>& degrees);

/// "drip, 2.0 mL in 10 s, by T. Example; asked for: drip (reached)"
[[nodiscard]] std::string seen_words(const LevelSeen& seen);

/// A reason for each kind of spell: what could not be seen, and each detail that was seen not to hold, in the order in which
/// they came, joined by "; ".
/// in   unknown  "engine speed was not known"
///      seen     makes "the selector was in D" of a detail
/// out  empty: there are no spells
template <class Seen>
[[nodiscard]] std::string reason_words(const std::vector<Spell>& spells, TimePoint plug_out,
                                       const std::string& unknown, Seen seen) {
  std::vector<std::pair<std::string, std::vector<Spell>>> kinds;
  for (const Spell& one : spells) {
    const std::string what = one.unknown ? unknown : seen(one.detail);
    auto kind = kinds.begin();
    while (kind != kinds.end() && kind->first != what) ++kind;
    if (kind == kinds.end()) kind = kinds.insert(kinds.end(), {what, {}});
    kind->second.push_back(one);
  }
  std::string text;
  for (const auto& [what, of] : kinds)
    text += (text.empty() ? "" : "; ") + what + " " + spells_words(of, plug_out);
  return text;
}

}  // namespace sumplog
