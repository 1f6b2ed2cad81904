#pragma once
#include <string>

#include "core/journal/event.h"

namespace sumplog {

/// "fluid out 4.07 L, in 4.00 L at 20 °C; 0.07 L go back in, at 20 °C (…)": one line for a person, with everything that it
/// assumes.
[[nodiscard]] std::string balance_text(const BalanceEvent& balance);

/// "exchange: 12.0 L through, 80 to 99 % new (…)". Percent are rounded down: what is not reached is not told.
[[nodiscard]] std::string exchange_text(const ExchangeEvent& exchange);

/// "level: plug in at 50 °C, 5 °C above the window: about 38 mL too little (34 to 39 mL; …)"
[[nodiscard]] std::string level_text(const LevelSumsEvent& level);

/// "83 %" of 0.834
[[nodiscard]] std::string percent_text(double share);

}  // namespace sumplog
