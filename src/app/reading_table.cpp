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

void ReadingTable::on_events(const std::vector<Event>& events, std::string& out) {
  for (const Event& event : events) {
    const auto* reading = std::get_if<ReadingEvent>(&event);
    if (reading == nullptr || reading->quality == Quality::by_hand) continue;
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
