#include "core/diagnostics/who_is_there.h"

#include <algorithm>

#include "core/diagnostics/interpreter.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr CanId kFunctional11 = standard_id(0x7DF);       // ISO 15765-4
constexpr CanId kFunctional29 = extended_id(0x18DB33F1);  // ISO 15765-4
constexpr std::size_t kColumns = 80;

std::string question_of(const Exchange& exchange) {
  return ecu_text(exchange.request.id, exchange.request.address) + " " +
         hex_text(exchange.asked.data(), exchange.asked.size());
}

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " ") + word;
  return text;
}

/// Words behind `head`, broken so that no line is longer than 80 columns, unless a word is.
void add_wrapped(std::vector<std::string>& lines, const std::string& head, const std::string& text) {
  const std::string indent(head.size(), ' ');
  std::string line = head;
  bool empty = true;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t to = std::min(text.find(' ', from), text.size());
    const std::string word = text.substr(from, to - from);
    from = to + 1;
    if (!empty && line.size() + 1 + word.size() > kColumns) {
      lines.push_back(line);
      line = indent;
      empty = true;
    }
    line += (empty ? "" : " ") + word;
    empty = false;
  }
  lines.push_back(line);
}

void add_list(std::vector<std::string>& lines, const std::string& title,
              const std::vector<std::string>& list) {
  lines.push_back(title + (list.empty() ? " nothing" : ""));
  for (const std::string& one : list) add_wrapped(lines, "  ", one);
}

}  // namespace

WhoIsThere::WhoIsThere(const std::vector<Decoder>& decoders) : book_(named_units(decoders)) {
  for (const Decoder& decoder : decoders)
    for (const Unit& unit : decoder.units)
      named_.emplace_back(unit.id + " of decoder " + decoder.id,
                          Endpoint{{}, unit.address.request, unit.address.request_address});
}

void WhoIsThere::on_output(const Output& output) {
  for (const Exchange& exchange : output.exchanges) on_exchange(exchange);
  for (const Event& event : output.events)
    if (const auto* vehicle = std::get_if<VehicleEvent>(&event)) on_vehicle(*vehicle);
}

void WhoIsThere::on_exchange(const Exchange& exchange) {
  const std::string question = question_of(exchange);
  if (question_answered_.try_emplace(question, false).second) asked_.push_back(question);
  Endpoint to = exchange.request;
  to.bus = {};
  asked_of_.insert(to);
  if (exchange.result == ExchangeResult::silent || !exchange.unit) return;
  question_answered_[question] = true;
  const std::string ecu = ecu_text(exchange.unit->id, exchange.unit->address);
  answered_[ecu].ecu = ecu;
}

void WhoIsThere::on_vehicle(const VehicleEvent& event) {
  if (event.ecu.empty()) return;
  VehicleEvent& unit = answered_[event.ecu];
  unit.ecu = event.ecu;
  if (!event.vin.empty()) unit.vin = event.vin;
  if (!event.name.empty()) unit.name = event.name;
  if (!event.calibration_ids.empty()) unit.calibration_ids = event.calibration_ids;
  if (!event.cvn.empty()) unit.cvn = event.cvn;
  if (!event.pids.empty()) unit.pids = event.pids;
}

std::vector<std::string> WhoIsThere::silent() const {
  std::vector<std::string> list;
  for (const std::string& question : asked_)
    if (!question_answered_.at(question)) list.push_back(question);
  return list;
}

std::vector<std::string> WhoIsThere::not_asked() const {
  std::vector<std::string> list;
  if (!asked_of_.contains({{}, kFunctional11, std::nullopt}))
    list.emplace_back("all units with 11-bit identifiers (7DF)");
  if (!asked_of_.contains({{}, kFunctional29, std::nullopt}))
    list.emplace_back("all units with 29-bit identifiers (18DB33F1)");
  for (const auto& [name, to] : named_)
    if (!asked_of_.contains(to)) list.push_back(ecu_text(to.id, to.address) + ", " + name);
  list.emplace_back("units behind gateways, and at makers' own addresses that no decoder in use names");
  return list;
}

std::vector<std::string> WhoIsThere::text() const {
  std::vector<std::string> lines;
  lines.push_back("answered:" + std::string(answered_.empty() ? " nobody" : ""));
  for (const auto& [ecu, unit] : answered_) {
    lines.push_back("  " + ecu + (unit.name.empty() ? "" : "  " + unit.name));
    if (!unit.vin.empty()) add_wrapped(lines, "    VIN                  ", unit.vin);
    if (!unit.calibration_ids.empty())
      add_wrapped(lines, "    calibrations         ", joined(unit.calibration_ids));
    if (!unit.cvn.empty()) add_wrapped(lines, "    verification numbers ", joined(unit.cvn));
    if (!unit.pids.empty()) add_wrapped(lines, "    parameters           ", joined(unit.pids));
  }
  add_list(lines, "asked:", asked_);
  add_list(lines, "silent:", silent());
  add_list(lines, "not asked:", not_asked());
  return lines;
}

std::string WhoIsThere::json() const {
  std::string units;
  for (const auto& [ecu, unit] : answered_) {
    JsonLine line;
    line.text("ecu", ecu);
    if (!unit.vin.empty()) line.text("vin", unit.vin);
    if (!unit.calibration_ids.empty()) line.texts("calibration_ids", unit.calibration_ids);
    if (!unit.cvn.empty()) line.texts("cvn", unit.cvn);
    if (!unit.name.empty()) line.text("name", unit.name);
    if (!unit.pids.empty()) line.texts("pids", unit.pids);
    units += (units.empty() ? "" : ",") + line.take();
  }
  JsonLine line;
  line.text("kind", "who").texts("asked", asked_).raw("answered", "[" + units + "]");
  return line.texts("silent", silent()).texts("not_asked", not_asked()).take();
}

}  // namespace sumplog
