#include "core/journal/newest_lines.h"

#include <variant>

#include "core/item/entry_names.h"

namespace sumplog {
namespace {

std::string_view kind_of(const Event& event) {
  if (std::holds_alternative<ThermalEvent>(event)) return "thermal";
  if (std::holds_alternative<WindowEvent>(event)) return "window";
  if (std::holds_alternative<CheckEvent>(event)) return "check";
  if (std::holds_alternative<ForecastEvent>(event)) return "forecast";
  if (std::holds_alternative<VerdictEvent>(event)) return "verdict";
  return {};
}

/// When a unit said something; what a person typed is no unit.
std::optional<TimePoint> heard_in(const Event& event) {
  if (const auto* reading = std::get_if<ReadingEvent>(&event))
    return reading->quality == Quality::by_hand ? std::nullopt : std::optional(reading->at);
  if (const auto* vehicle = std::get_if<VehicleEvent>(&event))
    return vehicle->ecu.empty() || vehicle->state == "silent" ? std::nullopt : std::optional(vehicle->at);
  if (const auto* codes = std::get_if<CodesEvent>(&event)) return codes->at;
  return std::nullopt;
}

}  // namespace

void NewestLines::on_reading(const ReadingEvent& reading, const std::string& line) {
  const bool by_hand = reading.quality == Quality::by_hand;
  const auto found = readings_.find(by_hand ? std::string(kByHand) : reading.signal);
  if (found == readings_.end()) {
    readings_.emplace(by_hand ? std::string(kByHand) : reading.signal,
                      NewestReading{reading.ecu, {{}, reading.at, line}});
    return;
  }
  NewestReading& known = found->second;
  // A unit that never gave a value is no source: one that does takes its place.
  if (known.ecu != reading.ecu && !reading.value) return;
  if (known.ecu != reading.ecu && known.newest.line.find("\"value\":") != std::string::npos) return;
  known = {reading.ecu, {{}, reading.at, line}};
}

void NewestLines::on_entry(const EntryEvent& entry) {
  if (entry.name != kPlugOut && entry.name != kPlugIn) return;
  plug_.move(entry.happened.value_or(entry.at), entry.name == kPlugOut);
}

void NewestLines::on_event(const Event& event, const std::string& line) {
  if (const auto* reading = std::get_if<ReadingEvent>(&event)) on_reading(*reading, line);
  if (const auto* entry = std::get_if<EntryEvent>(&event)) on_entry(*entry);
  if (const auto at = heard_in(event)) heard_at_ = at;
  const std::string_view kind = kind_of(event);
  for (Newest& one : newest_) {
    if (one.kind != kind) continue;
    one.at = std::visit([](const auto& e) { return e.at; }, event);
    one.line = line;
  }
}

void NewestLines::write(JsonLine& out, TimePoint now) const {
  JsonLine unit;
  unit.flag("heard", heard_at_ && now - *heard_at_ <= kHeardFor);
  if (heard_at_) unit.number("age_s", in_seconds(now - *heard_at_), 1);
  out.raw("unit", unit.take());
  if (const auto moved_at = plug_.moved_at())
    out.raw("plug", JsonLine().flag("out", plug_.out()).time("since_t", *moved_at).take());
  const auto newest_of = [now](const Newest& one) {
    return JsonLine().number("age_s", in_seconds(now - one.at), 1).raw("line", one.line).take();
  };
  JsonLine all;
  for (const Newest& one : newest_) {
    if (one.line.empty()) continue;
    all.raw(one.kind, newest_of(one));
  }
  if (!readings_.empty()) {
    JsonLine readings;
    for (const auto& [signal, reading] : readings_) readings.raw(signal, newest_of(reading.newest));
    all.raw("readings", readings.take());
  }
  out.raw("newest", all.take());
}

}  // namespace sumplog
