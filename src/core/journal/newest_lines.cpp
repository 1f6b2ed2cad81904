#include "core/journal/newest_lines.h"

#include <variant>

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

void NewestLines::on_event(const Event& event, const std::string& line) {
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
  JsonLine all;
  for (const Newest& one : newest_) {
    if (one.line.empty()) continue;
    JsonLine newest;
    newest.number("age_s", in_seconds(now - one.at), 1).raw("line", one.line);
    all.raw(one.kind, newest.take());
  }
  out.raw("newest", all.take());
}

}  // namespace sumplog
