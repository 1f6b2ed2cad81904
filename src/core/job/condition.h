#pragma once
#include <cstddef>
#include <cstdint>
#include <string>

namespace sumplog {

/// What a level check asks for, in the order in which a person would mend it.
enum class Condition : std::uint8_t {
  reading,           ///< of the fluid: there, fresh, believed
  engine,            ///< runs, or is off
  idle,              ///< the engine is in its idle band
  vehicle,           ///< stands
  sensor_code,       ///< no fault code speaks against the temperature
  codes_read,        ///< and the unit was asked
  selector_cycle,    ///< every position held
  selector,          ///< in an allowed position
  ticked,            ///< what no bus shows
  settled,           ///< after engine start
  settled_addition,  ///< after fluid was added
  window,            ///< the fluid is neither below nor above
  rate,              ///< the window is long enough
  by_hand,  ///< a second thermometer says that the fluid is inside; asked for where the unit is not believed
  start_limit,  ///< after the window was exceeded: the fluid has been below the start limit again
};
inline constexpr std::size_t kConditions = static_cast<std::size_t>(Condition::start_limit) + 1;

/// A condition that does not hold now.
struct Objection {
  Condition condition = Condition::reading;
  std::string text;      ///< what a person is told
  bool unknown = false;  ///< it cannot be seen; otherwise it is seen not to hold
  std::string detail;    ///< position of the selector, the condition to tick, why there is no reading
};

}  // namespace sumplog
