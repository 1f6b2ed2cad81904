#include "core/diagnostics/asked_units.h"

#include <algorithm>

#include "core/diagnostics/service.h"
#include "core/isotp/addressing.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr CanId kFunctional11 = standard_id(0x7DF);       // ISO 15765-4
constexpr CanId kFunctional29 = extended_id(0x18DB33F1);  // ISO 15765-4
constexpr std::uint32_t kNext11 = 1;      // from one request identifier to the next unit's …
constexpr std::uint32_t kNext29 = 0x100;  // … where the target stands in bits 8…15

bool to_all(CanId id) {
  return id == kFunctional11 || id == kFunctional29;
}

Endpoint without_bus(Endpoint endpoint) {
  endpoint.bus = {};
  return endpoint;
}

bool follows(const Endpoint& first, const Endpoint& second) {
  return !first.address && !second.address && first.id.extended == second.id.extended && !to_all(first.id) &&
         !to_all(second.id) && second.id.value - first.id.value == (first.id.extended ? kNext29 : kNext11);
}

/// Questions about single codes, or about single values of a freeze frame, are one question here.
std::vector<std::uint8_t> kind_of(const std::vector<std::uint8_t>& asked) {
  constexpr std::uint8_t kSnapshot = 0x04;  // ISO 14229-1, sub-functions of ReadDTCInformation
  constexpr std::uint8_t kExtendedData = 0x06;
  const bool of_a_code = asked.size() > 2 && asked[0] == service::kReadDtcInformation &&
                         (asked[1] == kSnapshot || asked[1] == kExtendedData);
  if (of_a_code) return {asked[0], asked[1]};
  if (asked[0] == service::kFreezeFrame) return {asked[0]};
  return asked;
}

std::string name_of(const Endpoint& endpoint) {
  const std::string text = ecu_text(endpoint.id, endpoint.address);
  return to_all(endpoint.id) ? "all units (" + text + ")" : text;
}

/// "7E0 to 7E7, 7F0"
std::string names_of(const std::set<Endpoint>& units) {
  std::string text;
  for (auto first = units.begin(); first != units.end();) {
    auto last = first;
    while (std::next(last) != units.end() && follows(*last, *std::next(last))) ++last;
    text += (text.empty() ? "" : ", ") + name_of(*first);
    if (last != first) text += " to " + name_of(*last);
    first = std::next(last);
  }
  return text;
}

}  // namespace

AskedUnits::AskedUnits(const std::vector<Decoder>& decoders) {
  for (const Decoder& decoder : decoders)
    for (const Signal& signal : decoder.signals)
      if (std::holds_alternative<SpnSource>(signal.source)) j1939_ = true;
  for (const Decoder& decoder : decoders)
    for (const Unit& unit : decoder.units)
      named_.emplace_back(Endpoint{{}, unit.address.request, unit.address.request_address},
                          unit.id + " of decoder " + decoder.id);
  for (const Decoder& decoder : decoders)
    for (const AddressRange& range : decoder.ranges)
      for (const UnitAddress& address : addresses_of(range))
        ranges_[decoder.id].insert({{}, address.request, std::nullopt});
}

void AskedUnits::on_exchange(const Exchange& exchange) {
  const auto [found, first] = of_.try_emplace(kind_of(exchange.asked));
  if (first) questions_.push_back(found->first);
  found->second.insert(without_bus(exchange.request));
}

std::vector<std::string> AskedUnits::asked() const {
  std::vector<std::string> lines;
  for (const Question& question : questions_) {
    lines.push_back(hex_text(question.data(), question.size()) + " of " + names_of(of_.at(question)));
  }
  return lines;
}

bool AskedUnits::was_asked(const Endpoint& request) const {
  return std::any_of(of_.begin(), of_.end(),
                     [&](const auto& one) { return one.second.contains(without_bus(request)); });
}

std::vector<std::string> AskedUnits::not_asked() const {
  std::vector<std::string> list;
  if (!was_asked({{}, kFunctional11, std::nullopt}))
    list.emplace_back("all units with 11-bit identifiers (7DF)");
  if (!was_asked({{}, kFunctional29, std::nullopt}))
    list.emplace_back("all units with 29-bit identifiers (18DB33F1)");
  for (const auto& [to, name] : named_)
    if (!was_asked(to)) list.push_back(ecu_text(to.id, to.address) + ", " + name);
  for (const auto& [decoder, range] : ranges_) {
    std::set<Endpoint> left;
    for (const Endpoint& to : range)
      if (!was_asked(to)) left.insert(to);
    if (!left.empty()) list.push_back(names_of(left) + ", range of decoder " + decoder);
  }
  if (!j1939_) list.emplace_back("units of SAE J1939: no decoder in use names a parameter of theirs");
  list.emplace_back("units behind gateways, and at makers' own addresses that no decoder in use names");
  return list;
}

}  // namespace sumplog
