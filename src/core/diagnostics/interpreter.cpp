#include "core/diagnostics/interpreter.h"

#include <algorithm>
#include <cmath>
#include <type_traits>

#include "core/codes/code_answer.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/diagnostics/vin.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using Bytes = std::span<const std::uint8_t>;

// SAE J1979, service 09 information types.
constexpr std::uint8_t kVin = 0x02;
constexpr std::uint8_t kCalibrationId = 0x04;
constexpr std::uint8_t kCalibrationVerification = 0x06;
constexpr std::uint8_t kEcuName = 0x0A;
constexpr std::size_t kCalibrationIdLength = 16;
constexpr std::size_t kCvnLength = 4;
// ISO 14229-1, data identifier of the VIN.
constexpr std::uint16_t kVinIdentifier = 0xF190;

constexpr std::uint8_t kBusyRepeatRequest = 0x21;  // ISO 14229-1, negative response code

constexpr std::size_t kNameLength = 8;  // SAE J1939-81, NAME: low byte first

std::uint32_t did_key(std::uint8_t asked_service, std::uint16_t did) {
  return static_cast<std::uint32_t>(asked_service) << 16 | did;
}

std::string ecu_of(const Endpoint& endpoint) {
  return ecu_text(endpoint.id, endpoint.address);
}

/// Printable ASCII; padding (NUL, space) at both ends goes, what else is not printable becomes '?'.
std::string plain_text(Bytes bytes) {
  std::string text;
  for (const std::uint8_t b : bytes)
    text += b == 0 ? ' ' : (b >= 0x20 && b < 0x7F ? static_cast<char>(b) : '?');
  const std::size_t first = text.find_first_not_of(' ');
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

LossEvent loss_of(TimePoint at, const Endpoint& from, std::string why) {
  return {at, from.bus, ecu_of(from), std::move(why), 1};
}

/// True when the multiplexor says so. Bytes of another length say nothing: they are a loss.
bool carries_another(const Signal& signal, Bytes data) {
  return data.size() == static_cast<std::size_t>(signal.length) && !carries(signal, data);
}

/// One signal out of its bytes: a reading with a value, a reading that says why it has none, or a loss.
Event event_of(const Signal& signal, Bytes data, TimePoint at, const Endpoint& from) {
  const auto value = decode(signal, data);
  if (!value && value.error() == DecodeError::wrong_length)
    return loss_of(at, from, signal.name + ": " + std::string(text_of(value.error())));
  ReadingEvent reading;
  reading.at = at;
  reading.bus = from.bus;
  reading.signal = signal.name;
  reading.decimals = signal.decimals;
  reading.unit = signal.unit;
  reading.ecu = ecu_of(from);
  reading.step = std::abs(signal.scale);
  reading.rounding = signal.rounding;
  if (value) {
    reading.value = *value;
    reading.label = label_of(signal, raw_value(signal, data));
  } else {
    reading.quality = Quality::suspect;
    const bool by_pattern = value.error() == DecodeError::not_available;
    const RawPattern* const pattern = by_pattern ? no_value_pattern(signal, data) : nullptr;
    reading.why = pattern != nullptr ? pattern->meaning : std::string(text_of(value.error()));
    reading.why += " (" + hex_text(data.data(), data.size()) + ")";
  }
  return reading;
}

}  // namespace

std::string refusal_text(std::uint8_t code) {
  constexpr std::uint8_t kNotInSession = 0x7E;  // sub-function
  constexpr std::uint8_t kServiceNotInSession = 0x7F;
  if (code == kNotInSession || code == kServiceNotInSession) return "not readable without another session";
  return "the unit refuses it (7F code " + hex_text(&code, 1) + ")";
}

std::vector<UnitAddress> named_units(const std::vector<Decoder>& decoders) {
  std::vector<UnitAddress> units;
  for (const Decoder& decoder : decoders)
    for (const Unit& unit : decoder.units)
      if (std::find(units.begin(), units.end(), unit.address) == units.end()) units.push_back(unit.address);
  // A unit that has a name goes before the place in a range.
  for (const Decoder& decoder : decoders)
    for (const AddressRange& range : decoder.ranges)
      for (const UnitAddress& address : addresses_of(range))
        if (std::none_of(units.begin(), units.end(),
                         [&](const UnitAddress& one) { return one == address || one.meets(address); }))
          units.push_back(address);
  return units;
}

bool Interpreter::Placed::comes_from(const Endpoint& endpoint) const {
  return !unit || (unit->response == endpoint.id &&
                   (!unit->response_address || unit->response_address == endpoint.address));
}

Interpreter::Interpreter(const std::vector<Decoder>& decoders) {
  for (const Decoder& decoder : decoders) {
    for (const Signal& signal : decoder.signals) {
      Placed placed{signal, std::nullopt};
      for (const Unit& unit : decoder.units)
        if (signal.unit_id == unit.id) placed.unit = unit.address;
      std::visit(
          [&](const auto& source) {
            using S = std::decay_t<decltype(source)>;
            if constexpr (std::is_same_v<S, PidSource>) pids_.emplace(source.pid, placed);
            if constexpr (std::is_same_v<S, DidSource>)
              dids_.emplace(did_key(source.service, source.did), placed);
            if constexpr (std::is_same_v<S, BroadcastSource>) broadcast_.emplace(source.id, placed);
            if constexpr (std::is_same_v<S, SpnSource>) groups_.emplace(source.pgn, placed);
          },
          signal.source);
    }
  }
}

void Interpreter::on_exchange(const Exchange& exchange, std::vector<Event>& events) {
  if (exchange.result == ExchangeResult::refused && exchange.unit) on_refusal(exchange, events);
  if (exchange.result != ExchangeResult::answered || !exchange.unit || exchange.response.size() < 2) return;
  switch (exchange.asked.front()) {
    case service::kCurrentData: on_current_data(exchange, events); break;
    case service::kVehicleInformation: on_vehicle_information(exchange, events); break;
    case service::kReadDataByLocalIdentifier:
    case service::kReadDataByIdentifier: on_identifiers(exchange, events); break;
  }
}

std::vector<ReadingEvent> Interpreter::frozen_values(const Exchange& exchange) const {
  std::vector<ReadingEvent> values;
  const bool answered = exchange.unit && exchange.result == ExchangeResult::answered;
  if (!answered || exchange.asked.front() != service::kFreezeFrame) return values;
  const auto answer = read_code_answer(exchange.asked, exchange.response, CodeFormat::j2012);
  const auto* const frozen = answer ? std::get_if<FrozenValues>(&*answer) : nullptr;
  if (frozen == nullptr) return values;
  for (const auto& [pid, data] : frozen->values) {
    const auto [first, last] = pids_.equal_range(pid);
    for (auto one = first; one != last; ++one) {
      if (!one->second.comes_from(*exchange.unit)) continue;
      Event event = event_of(one->second.signal, data, exchange.ended_at, *exchange.unit);
      auto* const reading = std::get_if<ReadingEvent>(&event);
      if (reading == nullptr) continue;
      const bool known = std::any_of(values.begin(), values.end(), [&](const ReadingEvent& value) {
        return value.signal == reading->signal;
      });
      if (!known) values.push_back(std::move(*reading));  // two decoders may describe one parameter
    }
  }
  return values;
}

void Interpreter::on_refusal(const Exchange& exchange, std::vector<Event>& events) const {
  if (exchange.negative_code == kBusyRepeatRequest) return;
  const Endpoint& unit = *exchange.unit;
  const auto refuse = [&](const auto& signals, auto key) {
    const auto [from, to] = signals.equal_range(key);
    for (auto it = from; it != to; ++it) {
      if (!it->second.comes_from(unit)) continue;
      ReadingEvent reading;
      reading.at = exchange.ended_at;
      reading.bus = unit.bus;
      reading.signal = it->second.signal.name;
      reading.unit = it->second.signal.unit;
      reading.ecu = ecu_of(unit);
      reading.quality = Quality::suspect;
      reading.why = refusal_text(exchange.negative_code);
      events.emplace_back(std::move(reading));
    }
  };
  const Bytes asked = Bytes(exchange.asked).subspan(1);
  switch (exchange.asked.front()) {
    case service::kCurrentData:
      for (const std::uint8_t pid : asked) refuse(pids_, pid);
      break;
    case service::kReadDataByLocalIdentifier:
      if (!asked.empty()) refuse(dids_, did_key(exchange.asked.front(), asked[0]));
      break;
    case service::kReadDataByIdentifier:
      for (std::size_t i = 0; i + 1 < asked.size(); i += 2)
        refuse(dids_,
               did_key(exchange.asked.front(), static_cast<std::uint16_t>(asked[i] << 8 | asked[i + 1])));
      break;
  }
}

void Interpreter::on_current_data(const Exchange& exchange, std::vector<Event>& events) {
  const Endpoint& unit = *exchange.unit;
  const std::vector<std::uint8_t>& asked = exchange.asked;
  Bytes rest = Bytes(exchange.response).subspan(1);
  std::vector<std::uint8_t> seen;
  while (!rest.empty()) {
    const std::uint8_t pid = rest[0];
    rest = rest.subspan(1);
    const bool was_asked = std::find(asked.begin() + 1, asked.end(), pid) != asked.end();
    const bool repeated = std::find(seen.begin(), seen.end(), pid) != seen.end();
    if (!was_asked || repeated) {
      events.push_back(loss_of(exchange.ended_at, unit, "answer holds a parameter that was not asked for"));
      return;
    }
    seen.push_back(pid);
    // Alone in the answer, the parameter has all that is left; in company its length must be known.
    const auto length = asked.size() == 2 ? std::optional<std::size_t>(rest.size()) : pid_length(pid);
    if (!length || *length > rest.size()) {
      events.push_back(
          loss_of(exchange.ended_at, unit,
                  length ? "answer ends inside a parameter" : "answer holds a parameter of unknown length"));
      return;
    }
    const Bytes data = rest.first(*length);
    rest = rest.subspan(*length);
    if (pid % 0x20 == 0) {
      on_support_bitmap(exchange, pid, data, events);
      continue;
    }
    const auto [from, to] = pids_.equal_range(pid);
    for (auto it = from; it != to; ++it)
      if (it->second.comes_from(unit))
        events.push_back(event_of(it->second.signal, data, exchange.ended_at, unit));
  }
}

void Interpreter::on_support_bitmap(const Exchange& exchange, std::uint8_t base, Bytes bits,
                                    std::vector<Event>& events) {
  constexpr std::size_t kBitmapLength = 4;
  const Endpoint& unit = *exchange.unit;
  if (bits.size() != kBitmapLength) {
    events.push_back(loss_of(exchange.ended_at, unit, "support bitmap: wrong length"));
    return;
  }
  Known& known = known_[unit];
  std::vector<std::string> pids = known.pids;
  for (std::size_t i = 0; i < 8 * kBitmapLength; ++i) {
    if ((bits[i / 8] & (0x80U >> (i % 8))) == 0) continue;
    const auto pid =
        static_cast<std::uint8_t>(base + i + 1);  // the last bit of E0 wraps to 00: it has no meaning
    if (pid == 0) continue;
    std::string text = hex_text(&pid, 1);
    if (std::find(pids.begin(), pids.end(), text) == pids.end()) pids.push_back(std::move(text));
  }
  std::sort(pids.begin(), pids.end());
  if (pids == known.pids) return;
  known.pids = pids;
  VehicleEvent event{};
  event.at = exchange.ended_at;
  event.bus = unit.bus;
  event.ecu = ecu_of(unit);
  event.pids = std::move(pids);
  events.push_back(std::move(event));
}

void Interpreter::on_vehicle_information(const Exchange& exchange, std::vector<Event>& events) {
  const Endpoint& unit = *exchange.unit;
  const std::uint8_t type = exchange.response[1];
  if (type % 0x20 == 0) return;  // which types are supported
  if (exchange.response.size() < 3) {
    events.push_back(loss_of(exchange.ended_at, unit, "vehicle information: wrong length"));
    return;
  }
  const Bytes data = Bytes(exchange.response).subspan(3);  // behind the number of data items
  Known& known = known_[unit];
  VehicleEvent event{};
  event.at = exchange.ended_at;
  event.bus = unit.bus;
  event.ecu = ecu_of(unit);
  const auto in_chunks = [&](std::size_t size, auto text_of_chunk) {
    std::vector<std::string> texts;
    for (Bytes rest = data; rest.size() >= size; rest = rest.subspan(size))
      texts.push_back(text_of_chunk(rest.first(size)));
    // Byte 3 says how many data items follow (SAE J1979, NODI).
    if (data.empty() || data.size() != size * exchange.response[2])
      events.push_back(loss_of(exchange.ended_at, unit, "vehicle information: wrong length"));
    return texts;
  };
  switch (type) {
    case kVin: on_vin(exchange, data, events); return;
    case kCalibrationId: {
      auto ids = in_chunks(kCalibrationIdLength, plain_text);
      if (ids == known.calibration_ids || ids.empty()) return;
      known.calibration_ids = event.calibration_ids = std::move(ids);
      break;
    }
    case kCalibrationVerification: {
      auto numbers = in_chunks(kCvnLength, [](Bytes b) { return hex_text(b.data(), b.size()); });
      if (numbers == known.cvn || numbers.empty()) return;
      known.cvn = event.cvn = std::move(numbers);
      break;
    }
    case kEcuName: {
      const std::string name = plain_text(data);
      if (name == known.name || name.empty()) return;
      known.name = event.name = name;
      break;
    }
    default: return;  // message counts and the types that nobody here uses
  }
  events.push_back(std::move(event));
}

void Interpreter::on_identifiers(const Exchange& exchange, std::vector<Event>& events) {
  const Endpoint& unit = *exchange.unit;
  const std::uint8_t asked_service = exchange.asked.front();
  const std::size_t id_size = asked_service == service::kReadDataByIdentifier ? 2 : 1;
  const auto did_at = [&](Bytes b) {
    return static_cast<std::uint16_t>(id_size == 2 ? b[0] << 8 | b[1] : b[0]);
  };
  Bytes wanted = Bytes(exchange.asked).subspan(1);
  // What follows a local identifier are options, not further identifiers (ISO 14230-3).
  if (id_size == 1) wanted = wanted.first(std::min<std::size_t>(wanted.size(), 1));
  Bytes rest = Bytes(exchange.response).subspan(1);
  // Answers come in the order of the request; each but the last needs a length that a decoder knows (ISO
  // 14229-1, service 22).
  while (wanted.size() >= id_size) {
    if (rest.size() < id_size || did_at(rest) != did_at(wanted)) {
      events.push_back(loss_of(exchange.ended_at, unit, "answer lacks an identifier that was asked for"));
      return;
    }
    const std::uint16_t did = did_at(rest);
    wanted = wanted.subspan(id_size);
    rest = rest.subspan(id_size);
    const auto [from, to] = dids_.equal_range(did_key(asked_service, did));
    const auto known =
        std::find_if(from, to, [&](const auto& entry) { return entry.second.comes_from(unit); });
    const bool last = wanted.size() < id_size;
    if (!last && known == to) {
      events.push_back(loss_of(exchange.ended_at, unit, "answer holds an identifier of unknown length"));
      return;
    }
    const std::size_t length = last ? rest.size() : static_cast<std::size_t>(known->second.signal.length);
    if (length > rest.size()) {
      events.push_back(loss_of(exchange.ended_at, unit, "answer ends inside an identifier"));
      return;
    }
    const Bytes data = rest.first(length);
    rest = rest.subspan(length);
    for (auto it = from; it != to; ++it)
      if (it->second.comes_from(unit))
        events.push_back(event_of(it->second.signal, data, exchange.ended_at, unit));
    if (asked_service == service::kReadDataByIdentifier && did == kVinIdentifier)
      on_vin(exchange, data, events);
  }
}

void Interpreter::on_vin(const Exchange& exchange, Bytes data, std::vector<Event>& events) {
  const Endpoint& unit = *exchange.unit;
  const std::string vin = plain_text(data);
  if (!is_vin(vin)) {
    events.push_back(loss_of(exchange.ended_at, unit, "VIN: not 17 characters of the VIN alphabet"));
    return;
  }
  Known& known = known_[unit];
  if (vin == known.vin) return;
  known.vin = vin;
  VehicleEvent event{};
  event.at = exchange.ended_at;
  event.bus = unit.bus;
  event.ecu = ecu_of(unit);
  event.vin = vin;
  event.vin_check_digit = vin_check_digit_holds(vin);
  events.push_back(std::move(event));
}

void Interpreter::on_broadcast(const CanFrame& frame, std::vector<Event>& events) const {
  const Endpoint from{frame.bus, frame.id, std::nullopt};
  if (frame.kind != FrameKind::data) return;
  const auto [first, last] = broadcast_.equal_range(frame.id);
  for (auto it = first; it != last; ++it)
    if (!carries_another(it->second.signal, frame.data()))
      events.push_back(event_of(it->second.signal, frame.data(), frame.at, from));
}

void Interpreter::on_address_claim(const Message& message, std::vector<Event>& events) {
  const std::uint8_t source = source_address(message.from.id);
  // The null address is no unit's, and we are none either.
  if (source == kJ1939Null || source == kJ1939ServiceTool) return;
  if (message.payload.size() != kNameLength) {
    events.push_back(loss_of(message.at, message.from, "address claim: wrong length"));
    return;
  }
  const std::string claim = hex_text(
      std::vector<std::uint8_t>(message.payload.rbegin(), message.payload.rend()).data(), kNameLength);
  // Whatever priority and destination it came with: there are no more units than addresses.
  const Endpoint unit{
      message.from.bus, join_identifier({kJ1939DefaultPriority, kAddressClaimed, source}), {}};
  Known& known = known_[unit];
  if (claim == known.claim) return;
  known.claim = claim;
  VehicleEvent event{};
  event.at = message.at;
  event.bus = unit.bus;
  event.ecu = ecu_of(unit);
  event.claim = claim;
  events.emplace_back(std::move(event));
}

void Interpreter::on_group(const Message& message, std::vector<Event>& events) {
  if (!message.group) return;
  if (*message.group == kAddressClaimed) on_address_claim(message, events);
  const auto [first, last] = groups_.equal_range(*message.group);
  for (auto it = first; it != last; ++it) {
    const auto& source = std::get<SpnSource>(it->second.signal.source);
    if (source.source_address && *source.source_address != source_address(message.from.id)) continue;
    if (carries_another(it->second.signal, message.payload)) continue;
    events.push_back(event_of(it->second.signal, message.payload, message.at, message.from));
  }
}

}  // namespace sumplog
