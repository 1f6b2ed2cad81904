#include "core/job/signal_sources.h"

namespace sumplog {

bool SignalSources::admits(const ReadingEvent& reading) {
  const auto found = units_.find(reading.signal);
  if (found != units_.end()) return found->second.first == reading.bus && found->second.second == reading.ecu;
  if (!reading.value) return false;
  units_.emplace(reading.signal, BusUnit{reading.bus, reading.ecu});
  return true;
}

const BusUnit* SignalSources::of(std::string_view signal) const {
  const auto found = units_.find(signal);
  return found == units_.end() ? nullptr : &found->second;
}

}  // namespace sumplog
