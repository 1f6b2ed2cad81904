#include "core/codes/scan_watch.h"

#include <algorithm>
#include <array>

#include "core/codes/code_comparison.h"
#include "core/codes/fault_code.h"
#include "core/codes/scan_entry.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/service.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/j1939/diagnostic_message.h"
#include "core/j1939/identifier.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr std::uint8_t kListByMask = 0x02;  // ISO 14229-1, sub-function of ReadDTCInformation
constexpr std::size_t kMostUnits = 512;     // own choice: as many as the transport knows
constexpr std::string_view kSupply = "module_voltage";
constexpr std::array<std::string_view, 3> kSinceCleared{
    "distance_since_codes_cleared", "time_since_codes_cleared", "warm_ups_since_codes_cleared"};

bool asks_by_mask(const std::vector<std::uint8_t>& asked) {
  return asked[0] == service::kReadDtcInformation && asked.size() > 2 && asked[1] == kListByMask;
}

/// A list by a mask that leaves out what a scan asks for is silent about it.
bool asks_for_every_fault(const std::vector<std::uint8_t>& asked) {
  return asks_by_mask(asked) && (asked[2] & code_status::kAnyFault) == code_status::kAnyFault;
}

/// Services whose answer is a list of codes; of 19 what a scan asks.
bool asks_for_list(const std::vector<std::uint8_t>& asked) {
  switch (asked[0]) {  // wire values
    case service::kStoredCodes:
    case service::kPendingCodes:
    case service::kPermanentCodes: return true;
    default: return asks_for_every_fault(asked);
  }
}

/// A unit that was asked so often in vain, and answers other questions, does not have this service.
constexpr int kAskedInVain = 2;  // own choice: a frame lost once may be chance

/// in   asked  asks_for_codes holds, here and in service_text
bool lists_codes(const std::vector<std::uint8_t>& asked) {
  return asked[0] == service::kStoredCodes || asks_for_every_fault(asked);
}

std::string service_text(const std::vector<std::uint8_t>& asked) {
  std::string text = hex_text(asked.data(), 1);
  const bool with_second = asked[0] == service::kReadDtcInformation || asked[0] == service::kCurrentData;
  if (with_second) text += " " + hex_text(asked.data() + 1, 1);
  if (asks_by_mask(asked) && !asks_for_every_fault(asked)) text += " " + hex_text(asked.data() + 2, 1);
  return text;
}

/// A unit may list what it could find; SAE J1979 has a service for each status.
bool is_fault(const ListedCode& code) {
  return !code.status || (*code.status & code_status::kAnyFault) != 0;
}

/// SAE J1979 has a service for each status.
std::vector<std::string> words_of(const ListedCode& code, std::uint8_t service) {
  if (code.status) return status_words(*code.status);
  if (service == service::kPendingCodes) return {"pending"};
  return {service == service::kPermanentCodes ? "permanent" : "stored"};
}

std::vector<std::string> lamps_on(const Lamps& lamps) {
  std::vector<std::string> on;
  if (lamps.malfunction.state == LampState::on) on.emplace_back("malfunction");
  if (lamps.red_stop.state == LampState::on) on.emplace_back("red stop");
  if (lamps.amber_warning.state == LampState::on) on.emplace_back("amber warning");
  if (lamps.protect.state == LampState::on) on.emplace_back("protect");
  return on;
}

}  // namespace

ScanWatch::ScanWatch(const std::vector<Decoder>& decoders, CodeTable meanings)
    : decoders_(decoders), meanings_(std::move(meanings)) {
  for (const Decoder& decoder : decoders)
    for (const Unit& unit : decoder.units)
      names_[{{}, unit.address.response, unit.address.response_address}] = unit.id;
}

void ScanWatch::on_mark(const ScanMark& mark, TimePoint now, std::vector<Event>& events) {
  if (open_) {
    if (mark.begun) open_->troubles.emplace_back("another scan was begun");
    finish(now, events);
  }
  if (!mark.begun) return;
  groups_.clear();
  open_.emplace(Scan{mark.scan, {}, {}, {}, AskedUnits(decoders_), {}, {}, {}, std::nullopt});
  if (plug_.out()) open_->troubles.emplace_back("the plug was out");
}

void ScanWatch::on_exchange(const Exchange& exchange, std::vector<ReadingEvent> frozen,
                            std::vector<Event>& events) {
  if (open_) {
    open_->asked.on_exchange(exchange);
    hear_on(exchange.request.bus);
  }
  if (!exchange.unit) return;
  const Endpoint& unit = *exchange.unit;
  if (exchange.result == ExchangeResult::silent) {
    if (open_ && asks_for_list(exchange.asked)) ++open_->vain[{unit, exchange.asked[0]}];
    return;
  }
  if (seen_.size() < kMostUnits) seen_.insert(unit);
  const bool j1979 = exchange.asked[0] <= service::kPermanentCodes;
  if (j1979 && exchange.result == ExchangeResult::answered && emission_related_.size() < kMostUnits)
    emission_related_.insert(unit);
  if (!asks_for_codes(exchange.asked)) {
    if (open_) open_->units[unit].answered = true;
    return;
  }
  CodesEvent event;
  event.at = exchange.ended_at;
  event.bus = unit.bus;
  if (open_) event.scan = open_->name;
  event.ecu = ecu_text(unit.id, unit.address);
  event.service = service_text(exchange.asked);
  if (exchange.result == ExchangeResult::refused) {
    event.refused = refusal_text(exchange.negative_code);
    keep(exchange, event);
    events.emplace_back(std::move(event));
    return;
  }
  const auto format = formats_.find(unit);
  const auto answer = read_code_answer(exchange.asked, exchange.response,
                                       format == formats_.end() ? CodeFormat::j2012 : format->second);
  if (!answer) {
    events.emplace_back(LossEvent{exchange.ended_at, unit.bus, event.ecu, answer.error(), 1});
    return;
  }
  if (const auto* count = std::get_if<CodeCount>(&*answer)) {
    formats_[unit] = code_format(count->format);
    return;  // the list says how many there are
  }
  if (const auto* list = std::get_if<CodeList>(&*answer)) event.codes = lines_of(*list, exchange.asked[0]);
  if (const auto* code = std::get_if<FrozenCode>(&*answer)) {
    if (!code->code) return;
    event.code = code->code->code;
  }
  if (std::holds_alternative<FrozenValues>(*answer)) {
    if (frozen.empty()) return;
    event.frozen = std::move(frozen);
  }
  if (const auto* records = std::get_if<CodeRecords>(&*answer)) {
    if (records->bytes.empty()) return;
    event.code = records->code.code;
    event.record = hex_text(records->bytes.data(), records->bytes.size());
  }
  if (const auto* monitors = std::get_if<MonitorStatus>(&*answer)) event.monitors = *monitors;
  keep(exchange, event);
  events.emplace_back(std::move(event));
}

std::vector<CodeLine> ScanWatch::lines_of(const CodeList& list, std::uint8_t service) const {
  std::vector<CodeLine> lines;
  for (const ListedCode& code : list.codes) {
    CodeMeaning meaning = meanings_.find(code.code);
    CodeLine line{code.code, words_of(code, service), code.raw, std::move(meaning.text), {}, {}};
    if (is_fault(code)) {
      line.code_class = text_of(meaning.code_class);
      line.why = std::move(meaning.why);
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

void ScanWatch::keep(const Exchange& exchange, const CodesEvent& event) {
  if (!open_) return;
  if (asks_for_list(exchange.asked)) open_->settled.insert({*exchange.unit, exchange.asked[0]});
  UnitCodes& unit = open_->units[*exchange.unit];
  unit.answered = true;
  if (event.monitors) unit.monitors = event.monitors;
  if (event.codes && lists_codes(exchange.asked)) unit.told = true;
  if (!event.refused.empty() &&
      (lists_codes(exchange.asked) || exchange.asked[0] == service::kReadDtcInformation))
    unit.refused = event.refused;
  keep_codes(*exchange.unit, event);
}

void ScanWatch::keep_codes(const Endpoint& from, const CodesEvent& event) {
  if (!event.codes) return;
  UnitCodes& unit = open_->units[from];
  for (const CodeLine& code : *event.codes) {
    if (code.code_class.empty()) continue;  // no fault
    auto& words = unit.codes[code.code];
    for (const std::string& word : code.status)
      if (std::find(words.begin(), words.end(), word) == words.end()) words.push_back(word);
  }
}

std::optional<Endpoint> ScanWatch::on_group(const Message& message, std::vector<Event>& events) {
  const auto parts = split_identifier(message.from.id);
  const bool active = message.group == kGroupActiveCodes;
  if (!parts || !(active || message.group == kGroupPreviousCodes)) return std::nullopt;
  // Whichever of the two it sends, and in whatever way: a unit is known by the identifier of its DM1.
  const CanId dm1 = join_identifier({kJ1939DefaultPriority, kGroupActiveCodes, parts->source, kJ1939Global});
  const Endpoint unit{message.from.bus, dm1, std::nullopt};
  if (groups_.size() >= kMostUnits && !groups_.contains({unit, *message.group})) return std::nullopt;
  auto& said = groups_[{unit, *message.group}];
  if (said == message.payload)
    return active && read_diagnostic_message(said) ? std::optional(unit) : std::nullopt;
  said = message.payload;
  CodesEvent event;
  event.at = message.at;
  event.bus = unit.bus;
  if (open_) event.scan = open_->name;
  event.ecu = ecu_text(unit.id);
  event.service = active ? "DM1" : "DM2";
  const auto told = read_diagnostic_message(message.payload);
  if (!told) {
    events.emplace_back(LossEvent{message.at, unit.bus, event.ecu,
                                  event.service + ": " + std::string(text_of(told.error())), 1});
    return std::nullopt;
  }
  if (told->without_number > 0)
    events.emplace_back(LossEvent{message.at, unit.bus, event.ecu,
                                  event.service + ": a code without a number", told->without_number});
  event.codes.emplace();
  for (const SpnCode& code : told->codes) {
    CodeMeaning meaning = meanings_.find_spn(code.spn, code.fmi);
    std::vector<std::string> status{active ? "active" : "previously active"};
    if (code.conversion_method) status.emplace_back("number in an old form, may be wrong");
    event.codes->push_back({spn_text(code), std::move(status), hex_text(code.raw.data(), code.raw.size()),
                            std::move(meaning.text), std::string(text_of(meaning.code_class)),
                            std::move(meaning.why)});
  }
  event.lamps = lamps_on(told->lamps);
  seen_.insert(unit);
  if (open_) {
    hear_on(unit.bus);
    open_->units[unit].answered = true;
    if (active) open_->units[unit].told = true;
    keep_codes(unit, event);
  }
  events.emplace_back(std::move(event));
  return std::nullopt;
}

void ScanWatch::on_reading(const ReadingEvent& reading) {
  if (!open_ || !reading.value || reading.quality != Quality::measured) return;
  if (reading.signal == kSupply)
    open_->supply_low_v = std::min(open_->supply_low_v.value_or(*reading.value), *reading.value);
  if (std::find(kSinceCleared.begin(), kSinceCleared.end(), reading.signal) == kSinceCleared.end()) return;
  for (auto& [unit, codes] : open_->units)
    if (unit.bus == reading.bus && ecu_text(unit.id, unit.address) == reading.ecu)
      codes.since_cleared[reading.signal] = *reading.value;
}

void ScanWatch::on_entry(const Entry& entry, TimePoint now, std::vector<Event>& events) {
  if (plug_.on_entry(entry, now) && plug_.out()) on_break("the plug came out", now, events);
  if (entry.name == kScanEntry && plug_.out()) {
    ScanEvent refused;
    refused.at = now;
    refused.scan = scan_of(entry);
    refused.why = {"no scan while the plug is out: put it in first"};
    events.emplace_back(std::move(refused));
  }
}

void ScanWatch::hear_on(BusName bus) {
  open_->bus = bus;
  open_->buses.insert(bus);
}

void ScanWatch::on_link(BusName bus, LinkState state) {
  // Before the first exchange nobody knows which bus the scan is for.
  if (!open_ || (!open_->buses.empty() && !open_->buses.contains(bus))) return;
  constexpr std::string_view kAway = "the bus was away";
  auto& troubles = open_->troubles;
  switch (state) {
    case LinkState::up:
    case LinkState::error_passive: return;
    case LinkState::down:
    case LinkState::gone:
    case LinkState::bus_off:
      if (std::find(troubles.begin(), troubles.end(), kAway) == troubles.end()) troubles.emplace_back(kAway);
      return;
  }
}

void ScanWatch::on_break(std::string_view why, TimePoint now, std::vector<Event>& events) {
  if (!open_) return;
  open_->troubles.emplace_back(why);
  finish(now, events);
}

const std::string* ScanWatch::given_name(const Endpoint& unit) const {
  const auto found = std::find_if(names_.begin(), names_.end(), [&](const auto& one) {
    return one.first.id == unit.id && (!one.first.address || one.first.address == unit.address);
  });
  return found == names_.end() ? nullptr : &found->second;
}

std::string ScanWatch::name_of(const Endpoint& unit) const {
  const std::string* const name = given_name(unit);
  return ecu_text(unit.id, unit.address) + (name == nullptr ? "" : " (" + *name + ")");
}

bool ScanWatch::may_be_nobody(const Exchange& exchange) const {
  // Silence is known a second after the question: for the last ones that is after the scan.
  const bool of_scan = open_ || (ended_ && exchange.asked_at <= *ended_);
  return of_scan && exchange.unit && asks_for_codes(exchange.asked) && !seen_.contains(*exchange.unit) &&
         given_name(*exchange.unit) == nullptr;
}

/// Why the codes of this unit are not all known; empty when they are.
std::string ScanWatch::gap_in(const Scan& scan, const Endpoint& unit, const UnitCodes& codes) const {
  if (!codes.answered) return "did not answer";
  if (!codes.told) return "did not tell its codes" + (codes.refused.empty() ? "" : ": " + codes.refused);
  const auto settled = [&](std::uint8_t service) { return scan.settled.contains({unit, service}); };
  const auto in_vain = [&](std::uint8_t service) {
    const auto found = scan.vain.find({unit, service});
    return found == scan.vain.end() ? 0 : found->second;
  };
  if (emission_related_.contains(unit)) {  // SAE J1979 asks every such unit for these two
    if (!settled(service::kStoredCodes)) return "did not tell its stored codes (03)";
    if (!settled(service::kPendingCodes)) return "did not tell its pending codes (07)";
  }
  for (const std::uint8_t service : {service::kPermanentCodes, service::kReadDtcInformation})
    if (!settled(service) && in_vain(service) > 0 && in_vain(service) < kAskedInVain)
      return "did not answer " + hex_text(&service, 1);
  return {};
}

void ScanWatch::finish(TimePoint now, std::vector<Event>& events) {
  Scan scan = std::move(*open_);
  open_.reset();
  ended_ = now;
  for (const Endpoint& unit : seen_) scan.units[unit];
  for (const auto& named : names_) {
    const Endpoint& endpoint = named.first;
    const bool there = std::any_of(scan.units.begin(), scan.units.end(), [&](const auto& one) {
      return one.first.id == endpoint.id && (!endpoint.address || endpoint.address == one.first.address);
    });
    if (!there) scan.units[{scan.bus, endpoint.id, endpoint.address}];
  }
  ScanEvent event;
  event.at = now;
  event.bus = scan.bus;
  event.scan = scan.name;
  event.asked = scan.asked.asked();
  if (!groups_.empty()) event.asked.emplace_back("DM1 and DM2 of SAE J1939, as far as they were heard");
  event.not_asked = scan.asked.not_asked();
  event.supply_low_v = scan.supply_low_v;
  event.why = std::move(scan.troubles);
  for (const auto& [unit, codes] : scan.units) {
    const std::string name = name_of(unit);
    (codes.answered ? event.answered : event.silent).push_back(name);
    if (const auto why = gap_in(scan, unit, codes); !why.empty())
      event.why.push_back(joined({name, why}, " "));
  }
  if (scan.units.empty()) event.why.emplace_back("no unit answered");
  event.complete = event.why.empty();
  ScanResult result{std::move(scan.units), event.complete};
  events.emplace_back(std::move(event));
  if (scan.name == kScanBefore) {
    before_ = std::move(result);
  } else if (scan.name == kScanAfter && before_) {
    ComparedEvent compared = compare(*before_, result);
    compared.at = now;
    events.emplace_back(std::move(compared));
  }
}

}  // namespace sumplog
