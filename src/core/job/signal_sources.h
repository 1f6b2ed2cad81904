#pragma once
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <utility>

#include "core/journal/event.h"

namespace sumplog {

/// A unit of one bus, as a reading and its codes name it: bus and `ecu`.
using BusUnit = std::pair<BusName, std::string>;

/// Of each signal the first unit that gives a value stays the source: two units are never mixed.
class SignalSources {
 public:
  /// Whether a reading is of its signal's source. The first one with a value names it; before that nothing is.
  bool admits(const ReadingEvent& reading);
  /// out  nullptr: no unit has given a value yet
  [[nodiscard]] const BusUnit* of(std::string_view signal) const;

 private:
  std::map<std::string, BusUnit, std::less<>> units_;  ///< by signal
};

}  // namespace sumplog
