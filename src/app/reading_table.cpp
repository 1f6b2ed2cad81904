#include "app/reading_table.h"

#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr Duration kFresh = std::chrono::seconds{3};  // as old as a reading may be to stand beside another

}  // namespace

std::string ReadingTable::newest(std::string_view signal, TimePoint now) const {
  const auto found = newest_.find(signal);
  return found == newest_.end() || now - found->second.at > kFresh ? std::string{} : found->second.text;
}

bool ReadingTable::is_source(const ReadingEvent& reading) {
  const Unit unit(reading.bus, reading.ecu);
  const auto known = source_.find(reading.signal);
  if (known != source_.end()) return known->second == unit;
  if (reading.value) source_.emplace(reading.signal, unit);
  return true;
}

void ReadingTable::on_events(const std::vector<Event>& events, std::string& out) {
  for (const Event& event : events) {
    const auto* reading = std::get_if<ReadingEvent>(&event);
    if (reading == nullptr || reading->quality == Quality::by_hand) continue;
    if (!is_source(*reading)) continue;
    const std::string text = reading->value ? fixed(*reading->value, reading->decimals) : std::string{};
    if (reading->signal != "fluid_temperature") {
      newest_.insert_or_assign(reading->signal, Newest{reading->at, text});
      continue;
    }
    out += seconds_text(reading->at) + ',' + text + ',' + newest("engine_speed", reading->at) + ',' +
           newest("vehicle_speed", reading->at) + ',' + newest("coolant_temperature", reading->at) + '\n';
  }
}

}  // namespace sumplog
