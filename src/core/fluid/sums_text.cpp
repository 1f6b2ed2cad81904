#include "core/fluid/sums_text.h"

#include <cmath>

#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr double kPercent = 100;
constexpr double kSlack = 1e-9;  // 0.29 * 100 is 28.999…
constexpr double kEven_l = 0.005;

std::string litres(double value) {
  return fixed(value, 2) + " L";
}

std::string in_brackets(const std::vector<std::string>& assumes) {
  return assumes.empty() ? "" : " (" + joined(assumes, "; ") + ")";
}

std::string refill_text(const BalanceEvent& e) {
  if (!e.to_refill_l) return "";
  const double missing_l = *e.to_refill_l;
  if (std::abs(missing_l) < kEven_l) return "; as much went in as came out";
  if (missing_l < 0) return "; " + litres(-missing_l) + " more went in than came out";
  return "; " + litres(missing_l) + " go back in" + (e.fresh_c ? ", at " + fixed(*e.fresh_c, 0) + " °C" : "");
}

std::string imbalance_text(const BalanceEvent& e) {
  if (!e.exchange_ahead_l) return "";
  const double ahead_l = *e.exchange_ahead_l;
  std::string text = "; exchange ";
  text += e.exchange_state.empty() ? "so far" : e.exchange_state;
  if (std::abs(ahead_l) < kEven_l) return text + ", even";
  return text + ", " + litres(std::abs(ahead_l)) + " more " + (ahead_l > 0 ? "in than out" : "out than in");
}

std::string wanted_text(const ExchangeEvent& e) {
  if (!e.wanted_share) return "";
  const std::string wanted = percent_text(*e.wanted_share);
  if (!e.more_ideal_l) return "; " + wanted + " new is out of reach";
  if (!e.more_mixed_l)
    return "; " + wanted + " new needs " + fixed(*e.more_ideal_l, 1) +
           " L more at least, and is out of reach if well mixed";
  if (*e.more_mixed_l <= 0) return "; " + wanted + " new is reached";
  return "; " + wanted + " new needs " + fixed(*e.more_mixed_l, 1) + " L more if well mixed, " +
         fixed(*e.more_ideal_l, 1) + " L if ideally displaced";
}

}  // namespace

std::string percent_text(double share) {
  return fixed(std::floor(share * kPercent + kSlack), 0) + " %";
}

std::string balance_text(const BalanceEvent& e) {
  return "fluid out " + litres(e.out_l) + ", in " + litres(e.in_l) + " at " + fixed(e.reference_c, 0) +
         " °C" + refill_text(e) + imbalance_text(e) + in_brackets(e.assumes);
}

std::string exchange_text(const ExchangeEvent& e) {
  std::string text = "exchange: ";
  if (e.steps.empty()) {
    text += "nothing new yet";
  } else {
    const ExchangeEvent::Step& now = e.steps.back();
    text += fixed(now.through_l, 1) + " L through, new fluid " + percent_text(now.new_mixed) +
            " if well mixed, " + percent_text(now.new_ideal) + " if ideally displaced";
  }
  return text + wanted_text(e) + in_brackets(e.assumes);
}

std::string level_text(const LevelSumsEvent& e) {
  const double off_c = e.plug_in_c - e.edge_c;
  const auto ml = [](double value) { return fixed(std::abs(value), 0); };
  const bool little = e.short_ml[1] > 0;
  return "level: plug in at " + fixed(e.plug_in_c, 0) + " °C, " + fixed(std::abs(off_c), 0) + " °C " +
         (off_c > 0 ? "above" : "below") + " the window: about " + ml(e.short_ml[1]) + " mL too " +
         (little ? "little" : "much") + " (" + ml(e.short_ml[little ? 0 : 2]) + " to " +
         ml(e.short_ml[little ? 2 : 0]) + " mL; " + fixed(e.fill_l, 1) + " L, " + joined(e.assumes, "; ") +
         ")";
}

}  // namespace sumplog
