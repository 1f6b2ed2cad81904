#include "core/decoder/signal_table.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "core/decoder/check_vectors.h"
#include "core/decoder/ecu_address.h"
#include "core/decoder/origin_keys.h"
#include "core/decoder/signal_name.h"
#include "core/guard/read_list.h"
#include "core/item/json_line.h"
#include "core/thermal/temperature.h"

namespace sumplog {
namespace {

constexpr std::array kKeys = std::to_array<std::string_view>(
    {"name",      "unit",        "pid",        "did",        "frame",          "spn",
     "ecu",       "service",     "extended",   "pgn",        "source_address", "length",
     "start_bit", "bit_length",  "byte_order", "signed",     "scale",          "offset",
     "decimals",  "rounding",    "valid",      "no_value",   "labels",         "poll_s",
     "origin",    "origin_note", "checks",     "multiplexor"});
constexpr std::array kSources = std::to_array<std::string_view>({"pid", "did", "frame", "spn"});

constexpr std::int64_t kBitsPerByte = 8;
constexpr std::int64_t kMaxByte = 0xFF;
constexpr std::int64_t kMaxDid = 0xFFFF;              // ISO 14229-1, dataIdentifier: two bytes
constexpr std::int64_t kMaxStandardId = 0x7FF;        // ISO 11898-1
constexpr std::int64_t kMaxExtendedId = 0x1FFFFFFF;   // ISO 11898-1
constexpr std::int64_t kMaxFrameLength = 64;          // ISO 11898-1, CAN FD
constexpr std::int64_t kMaxPayload = 4095 - 3;        // ISO 15765-2, FF_DL of 12 bits, less service and DID
constexpr std::int64_t kMaxGroupLength = 1785;        // SAE J1939-21
constexpr std::int64_t kMaxSpn = 524287;              // SAE J1939-73, 19 bits
constexpr std::int64_t kMaxPgn = 0x3FFFF;             // SAE J1939-21, 18 bits
constexpr std::int64_t kFirstBroadcastFormat = 0xF0;  // SAE J1939-21, PDU2 from PF 240
constexpr std::int64_t kMaxSourceAddress = 253;       // SAE J1939-81; 254 is null, 255 global
constexpr std::int64_t kMaxBits = 53;                 // the whole numbers that a double holds exactly
constexpr std::int64_t kMaxDecimals = 5;
constexpr double kMaxNumber = 1e15;
constexpr double kMinPollSeconds = 0.1;  // own choice: a reading is no reason to load the bus
constexpr double kMaxPollSeconds = 3600;
constexpr double kMicrosPerSecond = 1e6;

constexpr std::int64_t kServiceCurrentData = 0x01;  // SAE J1979
constexpr std::int64_t kServiceLocalId = 0x21;      // ISO 14230-3
/// Read-only too, but what they give is codes, texts and monitor results (SAE J1979, ISO 14229-1).
constexpr std::array kOtherReadServices =
    std::to_array<std::int64_t>({0x02, 0x03, 0x06, 0x07, 0x09, 0x0A, 0x19});
constexpr std::int64_t kServiceDataId = 0x22;  // ISO 14229-1

std::string byte_text(std::int64_t value) {
  const auto byte = static_cast<std::uint8_t>(value);
  return hex_text(&byte, 1);
}

/// Refuses keys that have no meaning for this source.
void only_without(const TomlTable& table, std::string_view source,
                  std::initializer_list<std::string_view> keys) {
  for (const std::string_view key : keys) {
    if (table.has(key)) {
      table.mistake(table.line_of(key),
                    "'" + std::string{key} + "' does not go with '" + std::string{source} + "'");
    }
  }
}

std::int64_t read_service(const TomlTable& table, std::string_view source, std::int64_t usual) {
  if (!table.has("service")) return usual;
  const std::int64_t service = table.integer("service", 0, kMaxByte).value_or(usual);
  const int line = table.line_of("service");
  const bool gives_values =
      service == kServiceCurrentData || service == kServiceLocalId || service == kServiceDataId;
  const bool read_only =
      std::find(kOtherReadServices.begin(), kOtherReadServices.end(), service) != kOtherReadServices.end();
  if (!gives_values) {
    table.mistake(
        line,
        "service " + byte_text(service) + (read_only ? " gives no value for a signal" : " is not read-only"),
        "a decoder can ask services 01, 21 and 22");
  } else if ((service == kServiceCurrentData) != (usual == kServiceCurrentData)) {
    table.mistake(line, "service " + byte_text(service) + " does not go with '" + std::string{source} + "'");
  }
  return service;
}

PidSource read_pid(const TomlTable& table) {
  only_without(table, "pid", {"pgn", "source_address", "extended", "multiplexor"});
  const std::int64_t pid = table.need_integer("pid", 0, kMaxByte);
  static_cast<void>(read_service(table, "pid", kServiceCurrentData));
  return {static_cast<std::uint8_t>(pid)};
}

DidSource read_did(const TomlTable& table) {
  only_without(table, "did", {"pgn", "source_address", "extended", "multiplexor"});
  const std::int64_t service = read_service(table, "did", kServiceDataId);
  const std::int64_t did = table.need_integer("did", 0, service == kServiceLocalId ? kMaxByte : kMaxDid);
  table.need("ecu", "a data identifier is asked from one unit: name an [[ecu]]");
  return {static_cast<std::uint8_t>(service), static_cast<std::uint16_t>(did)};
}

BroadcastSource read_frame(const TomlTable& table) {
  only_without(table, "frame", {"ecu", "service", "pgn", "source_address", "poll_s"});
  const std::int64_t id = table.need_integer("frame", 0, kMaxExtendedId);
  const bool extended = table.flag("extended").value_or(id > kMaxStandardId);
  if (!extended && id > kMaxStandardId) {
    table.mistake(table.line_of("extended"), "an identifier above 7FF has 29 bits");
  }
  const CanId frame{static_cast<std::uint32_t>(id), extended};
  if (is_diagnostic_by_standard(frame)) {
    table.mistake(table.line_of("frame"), ecu_text(frame) + " carries diagnostics, no broadcast",
                  "use 'pid' or 'did'");
  }
  return {frame};
}

SpnSource read_spn(const TomlTable& table) {
  only_without(table, "spn", {"ecu", "service", "extended"});
  SpnSource out;
  out.spn = static_cast<std::uint32_t>(table.need_integer("spn", 0, kMaxSpn));
  const std::int64_t pgn = table.need_integer("pgn", 0, kMaxPgn);
  const std::int64_t format = pgn >> kBitsPerByte & kMaxByte;
  if (format < kFirstBroadcastFormat && (pgn & kMaxByte) != 0) {
    table.mistake(table.line_of("pgn"),
                  "PGN " + std::to_string(pgn) + " cannot exist: below format 240 its low byte is 0");
  }
  out.pgn = static_cast<std::uint32_t>(pgn);
  if (table.has("poll_s") && !group_published(out.pgn)) {
    table.mistake(table.line_of("poll_s"), "PGN " + std::to_string(pgn) + " is not one that may be asked for",
                  "leave 'poll_s' out: it is read when it is broadcast");
  }
  if (const auto address = table.integer("source_address", 0, kMaxSourceAddress)) {
    out.source_address = static_cast<std::uint8_t>(*address);
  }
  return out;
}

/// The source, and the longest payload that it can have.
std::pair<Source, std::int64_t> read_source(const TomlTable& table) {
  std::vector<std::string_view> given;
  for (const std::string_view key : kSources) {
    if (table.has(key)) given.push_back(key);
  }
  if (given.size() != 1) {
    table.mistake(
        table.line(),
        given.empty() ? "the signal has no source" : "the signal has several sources: " + list_text(given),
        "name one of " + list_text(kSources));
    return {PidSource{}, kMaxPayload};
  }
  if (given[0] == "pid") return {read_pid(table), kMaxPayload};
  if (given[0] == "did") return {read_did(table), kMaxPayload};
  if (given[0] == "frame") return {read_frame(table), kMaxFrameLength};
  return {read_spn(table), kMaxGroupLength};
}

void read_ecu(const TomlTable& table, const std::vector<Unit>& ecus, Signal& signal) {
  signal.unit_id = table.text("ecu");
  if (!signal.unit_id) return;
  const bool known =
      std::any_of(ecus.begin(), ecus.end(), [&](const Unit& ecu) { return ecu.id == *signal.unit_id; });
  if (!known) table.mistake(table.line_of("ecu"), "no [[ecu]] has the id '" + *signal.unit_id + "'");
}

void read_name_and_unit(const TomlTable& table, Signal& signal) {
  signal.name = table.need_text("name");
  table.need("unit", "one of " + list_text(unit_names()));
  const std::optional<std::size_t> unit = table.word("unit", unit_names());
  if (table.mistakes().any()) return;
  signal.unit = unit_names()[*unit];

  const int line = table.line_of("name");
  if (!is_snake_case(signal.name)) {
    table.mistake(line, "the name must be snake_case: lower-case letters, digits, single '_'");
    return;
  }
  if (signal.name.starts_with(kOwnNamePrefix)) return;
  const SignalName* known = find_signal_name(signal.name);
  if (known == nullptr) {
    std::vector<std::string_view> names;
    for (const SignalName& one : signal_names()) names.push_back(one.name);
    const std::string_view meant = nearest(signal.name, names);
    table.mistake(line, "unknown signal name '" + signal.name + "'",
                  meant.empty()
                      ? "a name of your own begins with '" + std::string{kOwnNamePrefix} + "'"
                      : "did you mean '" + std::string{meant} + "'? (a name of your own begins with '" +
                            std::string{kOwnNamePrefix} + "')");
  } else if (signal.unit != known->unit && !(known->unit == "degC" && signal.unit == "degF")) {
    table.mistake(table.line_of("unit"),
                  "'" + signal.name + "' is kept in " + std::string{known->unit} + ", not in " + signal.unit);
  }
}

void hold_inside(const TomlTable& table, int start_bit, int bit_length, const Signal& signal) {
  if (start_bit + bit_length <= signal.length * kBitsPerByte) return;
  table.mistake(table.line_of("bit_length"),
                "bits " + std::to_string(start_bit) + "…" + std::to_string(start_bit + bit_length - 1) +
                    " reach behind the " + std::to_string(signal.length) + " bytes of 'length'");
}

ByteOrder read_byte_order(const TomlTable& table, ByteOrder usual) {
  constexpr std::array kOrders = std::to_array<std::string_view>({"big", "little"});
  const auto order = table.word("byte_order", kOrders);
  if (!order) return usual;
  return *order == 0 ? ByteOrder::big : ByteOrder::little;
}

/// Which frames of the source carry the signal.
void read_multiplexor(const TomlTable& table, Signal& signal) {
  const std::optional<TomlTable> one = table.table("multiplexor");
  if (!one) return;
  constexpr std::array kFieldKeys =
      std::to_array<std::string_view>({"start_bit", "bit_length", "byte_order", "raw"});
  one->allow_only(kFieldKeys);
  Multiplexor field;
  field.start_bit = static_cast<int>(one->need_integer("start_bit", 0, signal.length * kBitsPerByte - 1));
  field.bit_length = static_cast<int>(one->need_integer("bit_length", 1, kMaxBits));
  field.byte_order = read_byte_order(*one, signal.byte_order);
  if (one->mistakes().any()) return;
  hold_inside(*one, field.start_bit, field.bit_length, signal);
  const std::int64_t highest = (std::int64_t{1} << field.bit_length) - 1;
  field.raw = static_cast<std::uint64_t>(one->need_integer("raw", 0, highest));
  signal.multiplexor = field;
}

/// Where the bits of the field are.
void read_field(const TomlTable& table, std::int64_t longest, Signal& signal) {
  signal.length = static_cast<int>(table.need_integer("length", 1, longest));
  const std::int64_t all_bits = signal.length * kBitsPerByte;
  const bool part = table.has("start_bit") || table.has("bit_length");
  if (part) {
    table.need("start_bit", "a part of the payload has 'start_bit' and 'bit_length'");
    table.need("bit_length", "a part of the payload has 'start_bit' and 'bit_length'");
  }
  signal.start_bit = static_cast<int>(table.integer("start_bit", 0, all_bits - 1).value_or(0));
  signal.bit_length = static_cast<int>(table.integer("bit_length", 1, kMaxBits).value_or(all_bits));
  if (table.mistakes().any()) return;
  if (signal.bit_length > kMaxBits) {
    table.mistake(table.line_of("length"), "a value has at most " + std::to_string(kMaxBits) + " bits",
                  "take a part with 'start_bit' and 'bit_length'");
  } else {
    hold_inside(table, signal.start_bit, signal.bit_length, signal);
  }
  if (part || signal.length > 1) table.need("byte_order", "big or little");
  signal.byte_order = read_byte_order(table, ByteOrder::big);
  signal.is_signed = table.flag("signed").value_or(false);
  if (signal.is_signed && signal.bit_length < 2)
    table.mistake(table.line_of("signed"), "one bit has no sign");
}

void read_scaling(const TomlTable& table, Signal& signal) {
  signal.scale = table.need_number("scale", -kMaxNumber, kMaxNumber);
  signal.offset = table.need_number("offset", -kMaxNumber, kMaxNumber);
  if (signal.scale == 0)
    table.mistake(table.line_of("scale"), "'scale' is 0: every raw value would read the same");
  signal.decimals = static_cast<int>(table.integer("decimals", 0, kMaxDecimals).value_or(0));
  constexpr std::array kRoundings = std::to_array<std::string_view>({"round", "floor", "unknown"});
  constexpr std::array kValues = {Rounding::round, Rounding::floor, Rounding::unknown};
  signal.rounding = kValues[table.word("rounding", kRoundings).value_or(2)];
  table.need("valid", "[low, high] in the signal's unit");
  if (const auto valid = table.interval("valid")) {
    signal.valid_low = valid->first;
    signal.valid_high = valid->second;
  }
}

std::int64_t highest_raw(const Signal& signal) {
  return (std::int64_t{1} << signal.bit_length) - 1;
}

void read_no_value(const TomlTable& table, Signal& signal) {
  constexpr std::array kPatternKeys = std::to_array<std::string_view>({"raw", "raw_to", "meaning"});
  for (const TomlTable& one : table.tables("no_value")) {
    one.allow_only(kPatternKeys);
    RawPattern pattern;
    const std::int64_t low = one.need_integer("raw", 0, highest_raw(signal));
    const std::int64_t high = one.integer("raw_to", 0, highest_raw(signal)).value_or(low);
    if (high < low) one.mistake(one.line_of("raw_to"), "'raw_to' is below 'raw'");
    pattern.low = static_cast<std::uint64_t>(low);
    pattern.high = static_cast<std::uint64_t>(high);
    pattern.meaning = one.need_text("meaning");
    signal.no_value.push_back(std::move(pattern));
  }
}

/// A whole number as TOML writes it in a bare key: "3", "0x1A", "-1".
std::optional<std::int64_t> label_raw(std::string_view text) {
  const bool hex = text.starts_with("0x");
  const std::string_view digits = hex ? text.substr(2) : text;
  if (hex && digits.starts_with('-')) return std::nullopt;
  constexpr int kHex = 16;
  constexpr int kDecimal = 10;
  std::int64_t raw = 0;
  const auto done = std::from_chars(digits.data(), digits.data() + digits.size(), raw, hex ? kHex : kDecimal);
  if (done.ec != std::errc{} || done.ptr != digits.data() + digits.size()) return std::nullopt;
  return raw;
}

void read_labels(const TomlTable& table, Signal& signal) {
  const std::optional<TomlTable> labels = table.table("labels");
  if (!labels) return;
  const std::int64_t lowest = signal.is_signed ? -(highest_raw(signal) / 2) - 1 : 0;
  const std::int64_t highest = signal.is_signed ? highest_raw(signal) / 2 : highest_raw(signal);
  for (const auto& [key, value] : labels->members()) {
    const std::optional<std::int64_t> raw = label_raw(key);
    if (!raw || *raw < lowest || *raw > highest) {
      labels->mistake(value.line, "label for '" + key + "', which is no raw value of this signal");
    } else if (!label_of(signal, *raw).empty()) {
      labels->mistake(value.line, "two labels for raw value " + std::to_string(*raw));
    } else {
      signal.labels.emplace_back(*raw, labels->text(key).value_or(""));
    }
    if (labels->mistakes().any()) return;
  }
}

std::vector<std::uint8_t> read_bytes(const TomlTable& table) {
  std::vector<std::uint8_t> out;
  std::string digits;
  for (const char c : table.need_text("bytes")) {
    if (c != ' ') digits += c;
  }
  constexpr int kHex = 16;
  for (std::size_t i = 0; i < digits.size(); i += 2) {
    std::uint8_t byte = 0;
    const char* end = digits.data() + std::min(i + 2, digits.size());
    const auto done = std::from_chars(digits.data() + i, end, byte, kHex);
    if (done.ec != std::errc{} || done.ptr != end || digits.size() % 2 != 0) {
      table.mistake(table.line_of("bytes"), "'bytes' must be pairs of hex digits: \"0C 1A F8\"");
      return {};
    }
    out.push_back(byte);
  }
  return out;
}

void read_checks(const TomlTable& table, Signal& signal) {
  constexpr std::array kCheckKeys = std::to_array<std::string_view>({"bytes", "value", "no_reading"});
  table.need(
      "checks",
      "give bytes and the value that they mean: both ends of 'valid', one below zero, each 'no_value'");
  for (const TomlTable& one : table.tables("checks")) {
    one.allow_only(kCheckKeys);
    CheckVector check;
    check.line = one.line();
    check.bytes = read_bytes(one);
    check.value = one.number("value", -kMaxNumber, kMaxNumber);
    const bool none = one.flag("no_reading").value_or(false);
    if (none == one.has("value")) {
      one.mistake(one.line(), "a check vector has either 'value' or 'no_reading = true'");
    }
    signal.checks.push_back(std::move(check));
  }
}

/// The one place where °F of a vehicle becomes °C: everything behind it, journal included, is in °C.
void to_celsius(Signal& signal) {
  const auto celsius = [](double degrees_f) { return from_fahrenheit(degrees_f).value; };
  const double celsius_per_step = celsius(signal.scale) - celsius(0);  // a step is a difference
  signal.offset = celsius(signal.offset);
  signal.scale = celsius_per_step;
  signal.valid_low = celsius(signal.valid_low);
  signal.valid_high = celsius(signal.valid_high);
  for (CheckVector& check : signal.checks) {
    if (check.value) check.value = celsius(*check.value);
  }
  signal.unit = "degC";
}

}  // namespace

Signal read_signal(const TomlTable& table, const std::vector<Unit>& ecus) {
  Signal signal;
  signal.line = table.line();
  FirstMistake& mistakes = table.mistakes();
  table.allow_only(kKeys);
  read_name_and_unit(table, signal);
  const auto [source, longest] = read_source(table);
  signal.source = source;
  read_ecu(table, ecus, signal);
  read_field(table, longest, signal);
  if (mistakes.any()) return signal;  // what follows needs a sound field
  read_multiplexor(table, signal);
  read_scaling(table, signal);
  read_no_value(table, signal);
  read_labels(table, signal);
  if (const auto poll = table.number("poll_s", kMinPollSeconds, kMaxPollSeconds)) {
    signal.poll_period = Duration{std::llround(*poll * kMicrosPerSecond)};
  }
  const OriginKeys origin = read_origin(table);
  signal.origin = origin.origin;
  signal.origin_note = origin.note;
  read_checks(table, signal);
  if (mistakes.any()) return signal;
  hold_against_checks(signal, mistakes);
  if (signal.unit == "degF") to_celsius(signal);
  return signal;
}

}  // namespace sumplog
