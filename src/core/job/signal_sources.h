#pragma once
#include <functional>
#include <map>
#include <string>
#include <string_view>

#include "core/journal/event.h"

namespace sumplog {

/// Of each signal the first unit that gives a value stays the source: two units are never mixed.
class SignalSources {
 public:
  struct Unit {
    BusName bus;
    std::string ecu;
  };
  /// Whether a reading is of its signal's source. The first one with a value names it; before that nothing is.
  bool admits(const ReadingEvent& reading);
  /// out  nullptr: no unit has given a value yet
  [[nodiscard]] const Unit* of(std::string_view signal) const;

 private:
  std::map<std::string, Unit, std::less<>> units_;  ///< by signal
};

}  // namespace sumplog
