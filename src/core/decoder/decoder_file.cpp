#include <array>

#include "core/decoder/decoder.h"
#include "core/decoder/ecu_address.h"
#include "core/decoder/file_head.h"
#include "core/decoder/signal_table.h"
#include "core/decoder/toml_table.h"

namespace sumplog {
namespace {

constexpr std::array kTopKeys =
    std::to_array<std::string_view>({"format", "id", "title", "note", "ecu", "range", "signal"});
constexpr std::array kEcuKeys = std::to_array<std::string_view>(
    {"id", "request", "response", "addressing", "request_address", "response_address"});

constexpr std::array kRangeKeys = std::to_array<std::string_view>({"first", "last", "answer_offset"});

// Ours, no source: a scan shall end, and each identifier is looked up with every frame.
constexpr std::int64_t kMostInRange = 64;
constexpr std::size_t kMostRanges = 4;

constexpr std::int64_t kMaxStandardId = 0x7FF;       // ISO 11898-1
constexpr std::int64_t kMaxExtendedId = 0x1FFFFFFF;  // ISO 11898-1
constexpr std::int64_t kMaxByte = 0xFF;

CanId read_identifier(const TomlTable& table, std::string_view key) {
  const std::int64_t id = table.need_integer(key, 0, kMaxExtendedId);
  return {static_cast<std::uint32_t>(id), id > kMaxStandardId};
}

std::optional<std::uint8_t> read_address(const TomlTable& table, std::string_view key) {
  const std::optional<std::int64_t> address = table.integer(key, 0, kMaxByte);
  if (!address) return std::nullopt;
  return static_cast<std::uint8_t>(*address);
}

/// Two units must not share what they are asked on or answer on: their answers would mix.
bool same_channel(const UnitAddress& a, const UnitAddress& b) {
  const bool asked = a.request == b.request && a.request_address == b.request_address;
  const bool answered = a.response == b.response && a.response_address == b.response_address;
  return (asked && a.mode != AddressingMode::normal) || (asked && answered) ||
         (a.request == b.request && a.mode != b.mode) ||
         (a.mode == AddressingMode::normal && b.mode == AddressingMode::normal &&
          (a.request == b.request || a.response == b.response));
}

Unit read_ecu(const TomlTable& table, const std::vector<Unit>& before) {
  constexpr std::array kModes = std::to_array<std::string_view>({"normal", "extended", "mixed"});
  constexpr std::array kValues = {AddressingMode::normal, AddressingMode::extended, AddressingMode::mixed};
  Unit ecu;
  ecu.line = table.line();
  table.allow_only(kEcuKeys);
  ecu.id = table.need_text("id");
  ecu.address.request = read_identifier(table, "request");
  ecu.address.response = read_identifier(table, "response");
  ecu.address.mode = kValues[table.word("addressing", kModes).value_or(0)];
  ecu.address.request_address = read_address(table, "request_address");
  ecu.address.response_address = read_address(table, "response_address");
  if (table.mistakes().any()) return ecu;

  const std::string wrong = address_mistake(ecu.address);
  if (!wrong.empty()) {
    table.mistake(table.line_of("request"), wrong,
                  "see 'Which identifiers may be asked' in docs/decoder_format.md");
  }
  for (const Unit& other : before) {
    const std::string where = " in line " + std::to_string(other.line);
    if (other.id == ecu.id)
      table.mistake(table.line_of("id"), "the ecu id '" + ecu.id + "' is used twice, first" + where);
    if (same_channel(other.address, ecu.address)) {
      table.mistake(table.line_of("request"),
                    "ecu '" + ecu.id + "' has the same identifiers as '" + other.id + "'" + where);
    }
  }
  return ecu;
}

/// Every identifier of a decoder means one thing.
void hold_beside(const Decoder& before, const AddressRange& range, const TomlTable& table) {
  const std::vector<UnitAddress> addresses = addresses_of(range);
  std::vector<std::pair<UnitAddress, std::string>> others;
  for (const Unit& unit : before.units)
    others.emplace_back(unit.address, "ecu '" + unit.id + "' in line " + std::to_string(unit.line));
  for (const AddressRange& other : before.ranges)
    for (const UnitAddress& one : addresses_of(other))
      others.emplace_back(one, "the range in line " + std::to_string(other.line));
  for (const UnitAddress& one : addresses) others.emplace_back(one, "this range itself");
  for (const UnitAddress& one : addresses)
    for (const auto& [other, name] : others)
      if (one.meets(other)) {
        table.mistake(table.line_of("first"),
                      ecu_text(one.request) + ", answered on " + ecu_text(one.response) + ", meets " + name);
        return;
      }
}

AddressRange read_range(const TomlTable& table, const Decoder& before) {
  AddressRange range;
  range.line = table.line();
  table.allow_only(kRangeKeys);
  const std::int64_t first = table.need_integer("first", 0, kMaxStandardId);
  const std::int64_t last = table.need_integer("last", 0, kMaxStandardId);
  range.answer_offset =
      static_cast<int>(table.need_integer("answer_offset", -kMaxStandardId, kMaxStandardId));
  if (table.mistakes().any()) return range;
  range.first = standard_id(static_cast<std::uint32_t>(first));
  range.last = standard_id(static_cast<std::uint32_t>(last));
  if (last < first || last - first >= kMostInRange) {
    table.mistake(table.line_of("last"),
                  "a range has 1 to " + std::to_string(kMostInRange) + " identifiers, in rising order");
    return range;
  }
  for (const UnitAddress& one : addresses_of(range)) {
    const std::string wrong = address_mistake(one);
    if (wrong.empty()) continue;
    table.mistake(table.line_of("first"), wrong,
                  "see 'Which identifiers may be asked' in docs/decoder_format.md");
    return range;
  }
  hold_beside(before, range, table);
  return range;
}

bool same_source(const Signal& a, const Signal& b) {
  if (a.source.index() != b.source.index() || a.unit_id != b.unit_id) return false;
  if (const auto* pid = std::get_if<PidSource>(&a.source))
    return pid->pid == std::get<PidSource>(b.source).pid;
  if (const auto* frame = std::get_if<BroadcastSource>(&a.source))
    return frame->id == std::get<BroadcastSource>(b.source).id;
  if (const auto* group = std::get_if<SpnSource>(&a.source))
    return group->pgn == std::get<SpnSource>(b.source).pgn;
  const auto& did = std::get<DidSource>(a.source);
  const auto& other = std::get<DidSource>(b.source);
  return did.service == other.service && did.did == other.did;
}

/// One name, one signal; one source, one length: an answer that holds several values is cut by it.
void hold_beside(const std::vector<Signal>& before, const Signal& signal, const TomlTable& table) {
  for (const Signal& other : before) {
    const std::string where = "line " + std::to_string(other.line);
    if (other.name == signal.name) {
      table.mistake(table.line_of("name"),
                    "the signal '" + signal.name + "' stands twice, first in " + where);
    }
    if (same_source(other, signal) && other.length != signal.length) {
      table.mistake(table.line_of("length"), "'length' is " + std::to_string(signal.length) + ", but '" +
                                                 other.name + "' in " + where + " has " +
                                                 std::to_string(other.length) + " for the same source");
    }
  }
}

}  // namespace

Result<Decoder> parse_decoder(std::string_view text, const std::string& name) {
  const Result<TomlValue> root = parse_toml(text, name);
  if (!root) return tl::unexpected(root.error());
  FirstMistake mistakes{name};
  const TomlTable top{*root, mistakes};

  Decoder out;
  top.allow_only(kTopKeys);
  const FileHead head = read_file_head(top);
  out.id = head.id;
  out.title = head.title;
  out.note = top.text("note").value_or("");
  for (const TomlTable& table : top.tables("ecu")) {
    out.units.push_back(read_ecu(table, out.units));
    if (mistakes.any()) return tl::unexpected(mistakes.fault());
  }
  const std::vector<TomlTable> ranges = top.tables("range");
  if (ranges.size() > kMostRanges)
    top.mistake(ranges.back().line(), "a decoder has at most " + std::to_string(kMostRanges) + " [[range]]");
  for (const TomlTable& table : ranges) {
    out.ranges.push_back(read_range(table, out));
    if (mistakes.any()) return tl::unexpected(mistakes.fault());
  }
  top.need("signal", "a decoder has at least one [[signal]]");
  for (const TomlTable& table : top.tables("signal")) {
    Signal signal = read_signal(table, out.units);
    hold_beside(out.signals, signal, table);
    if (mistakes.any()) return tl::unexpected(mistakes.fault());
    out.signals.push_back(std::move(signal));
  }
  if (mistakes.any()) return tl::unexpected(mistakes.fault());
  return out;
}

}  // namespace sumplog
