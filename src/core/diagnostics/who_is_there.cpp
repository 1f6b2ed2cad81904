#include "core/diagnostics/who_is_there.h"

#include <algorithm>
#include <array>
#include <span>

#include "core/diagnostics/interpreter.h"
#include "core/isotp/pci.h"
#include "core/item/json_line.h"
#include "core/j1939/identifier.h"
#include "core/j1939/transport.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr std::uint32_t kRequestGroup = 0xEA00;  // SAE J1939-21
constexpr std::uint8_t kRequestToSend = 16;      // SAE J1939-21, TP.CM
constexpr std::uint8_t kBroadcastAnnouncement = 32;
constexpr std::size_t kTransportGroupAt = 5;  // SAE J1939-21, TP.CM
constexpr std::size_t kGroupBytes = 3;        // of a request: the PGN

std::string question_of(const Exchange& exchange) {
  return ecu_text(exchange.request.id, exchange.request.address) + " " +
         hex_text(exchange.asked.data(), exchange.asked.size());
}

std::uint32_t group_in(std::span<const std::uint8_t> bytes) {
  return static_cast<std::uint32_t>(bytes[0] | bytes[1] << 8 | bytes[2] << 16);
}

/// A J1939 request of ours for a group, as it is told to a person.
std::string group_question(std::uint32_t group, std::uint8_t to) {
  const CanId id = join_identifier({kJ1939DefaultPriority, kRequestGroup, kJ1939ServiceTool, to});
  const std::array<std::uint8_t, 3> bytes{static_cast<std::uint8_t>(group >> 16),
                                          static_cast<std::uint8_t>(group >> 8),
                                          static_cast<std::uint8_t>(group)};
  return ecu_text(id) + " PGN " + hex_text(bytes.data(), bytes.size());
}

/// What a NAME says that a person can use.
/// src  SAE J1939-81 as in canboat, PGN 60928: identity 21 bits, manufacturer 11, instances 8, function 8, …
std::string claim_text(const std::string& claim) {
  constexpr int kHex = 16;
  const std::uint64_t name = std::stoull(claim, nullptr, kHex);
  return claim + ": function " + std::to_string(name >> 40 & 0xFF) + ", manufacturer " +
         std::to_string(name >> 21 & 0x7FF) + ", identity " + std::to_string(name & 0x1FFFFF);
}

std::vector<std::string> values_text(const std::map<std::uint32_t, std::string>& values) {
  std::vector<std::string> list;
  list.reserve(values.size());
  for (const auto& [spn, signal] : values)
    list.push_back((spn == 0 ? "" : std::to_string(spn) + " ") + signal);
  return list;
}

std::string address_text(std::uint8_t address) {
  return hex_text(&address, 1);
}

}  // namespace

WhoIsThere::WhoIsThere(const std::vector<Decoder>& decoders) : units_(decoders) {
  for (const Decoder& decoder : decoders)
    for (const Signal& signal : decoder.signals)
      if (std::holds_alternative<SpnSource>(signal.source)) group_signals_.push_back(signal);
}

void WhoIsThere::on_output(const Output& output) {
  for (const Exchange& exchange : output.exchanges) on_exchange(exchange);
  for (const Message& message : output.messages)
    if (message.group) on_group(message);
  for (const Event& event : output.events)
    if (const auto* vehicle = std::get_if<VehicleEvent>(&event)) on_vehicle(*vehicle);
}

void WhoIsThere::ask(const std::string& question) {
  if (question_answered_.try_emplace(question, false).second) asked_.push_back(question);
}

void WhoIsThere::on_frame(const CanFrame& frame) {
  const auto parts = split_identifier(frame.id);
  const auto bytes = frame.data();
  if (frame.kind != FrameKind::data || !parts) return;
  if (parts->source == kJ1939ServiceTool) {
    if (parts->group == kRequestGroup && bytes.size() >= kGroupBytes)
      ask(group_question(group_in(bytes), parts->destination));
    return;
  }
  // Here and not from whole messages: what no decoder reads is an answer too.
  const bool transport = parts->group == kGroupTransportManagement && bytes.size() == kClassicLength &&
                         (bytes[0] == kRequestToSend || bytes[0] == kBroadcastAnnouncement);
  const std::uint32_t group = transport ? group_in(bytes.subspan(kTransportGroupAt)) : parts->group;
  for (const std::uint8_t to : {parts->source, kJ1939Global}) {
    const auto question = question_answered_.find(group_question(group, to));
    if (question != question_answered_.end()) question->second = true;
  }
}

void WhoIsThere::on_group(const Message& message) {
  const auto parts = split_identifier(message.from.id);
  if (!parts || parts->source == kJ1939ServiceTool || parts->source == kJ1939Null) return;
  J1939Unit& unit = j1939_[parts->source];
  for (const Signal& signal : group_signals_) {
    const auto& source = std::get<SpnSource>(signal.source);
    const bool meant =
        source.pgn == *message.group && source.source_address.value_or(parts->source) == parts->source;
    if (meant && decode(signal, message.payload)) unit.values[source.spn] = signal.name;
  }
}

void WhoIsThere::on_exchange(const Exchange& exchange) {
  const std::string question = question_of(exchange);
  ask(question);
  units_.on_exchange(exchange);
  if (exchange.result == ExchangeResult::silent || !exchange.unit) return;
  question_answered_[question] = true;
  const std::string ecu = ecu_text(exchange.unit->id, exchange.unit->address);
  answered_[ecu].ecu = ecu;
}

void WhoIsThere::on_vehicle(const VehicleEvent& event) {
  if (event.ecu.empty()) return;
  if (!event.claim.empty()) {
    j1939_[static_cast<std::uint8_t>(std::stoul(event.ecu, nullptr, 16))].claim = event.claim;
    return;
  }
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

std::vector<std::string> WhoIsThere::text() const {
  std::vector<std::string> lines;
  lines.push_back("answered:" + std::string(answered_.empty() ? " nobody" : ""));
  for (const auto& [ecu, unit] : answered_) {
    lines.push_back("  " + ecu + (unit.name.empty() ? "" : "  " + unit.name));
    if (!unit.vin.empty()) add_wrapped(lines, "    VIN                  ", unit.vin);
    if (!unit.calibration_ids.empty())
      add_wrapped(lines, "    calibrations         ", joined(unit.calibration_ids, " "));
    if (!unit.cvn.empty()) add_wrapped(lines, "    verification numbers ", joined(unit.cvn, " "));
    if (!unit.pids.empty()) add_wrapped(lines, "    parameters           ", joined(unit.pids, " "));
  }
  if (!j1939_.empty()) lines.emplace_back("heard of SAE J1939:");
  for (const auto& [address, unit] : j1939_) {
    lines.push_back("  address " + address_text(address));
    add_wrapped(lines, "    name                 ",
                unit.claim.empty() ? "not claimed" : claim_text(unit.claim));
    if (!unit.values.empty())
      add_wrapped(lines, "    parameters (SPN)     ", joined(values_text(unit.values), ", "));
  }
  add_list(lines, "asked:", asked_);
  add_list(lines, "silent:", silent());
  add_list(lines, "not asked:", units_.not_asked());
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
  std::string j1939;
  for (const auto& [address, unit] : j1939_) {
    JsonLine line;
    line.text("address", address_text(address));
    if (!unit.claim.empty()) line.text("claim", unit.claim);
    if (!unit.values.empty()) line.texts("spns", values_text(unit.values));
    j1939 += (j1939.empty() ? "" : ",") + line.take();
  }
  JsonLine line;
  line.text("kind", "who").texts("asked", asked_).raw("answered", "[" + units + "]");
  line.raw("j1939", "[" + j1939 + "]");
  return line.texts("silent", silent()).texts("not_asked", units_.not_asked()).take();
}

}  // namespace sumplog
