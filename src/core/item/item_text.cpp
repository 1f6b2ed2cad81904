#include "core/item/item_text.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "core/capture/candump_text.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

using Json = nlohmann::ordered_json;  // keeps the order of settings

// Year 2239. Below 2^33 s a double tells neighbouring microseconds apart; a little above it does not.
constexpr double kLatestSecond = in_seconds(kLatestTime.time_since_epoch());
constexpr std::size_t kMostParts = 99999;       // 5 digits in a part's frame; 30 MB of text
constexpr std::size_t kLargestItem = 4U << 20;  // bytes collected from parts; a decoder file is some 10 kB

constexpr std::array<std::pair<LinkState, std::string_view>, 5> kLinkStates{
    {{LinkState::up, "up"},
     {LinkState::down, "down"},
     {LinkState::gone, "gone"},
     {LinkState::error_passive, "error_passive"},
     {LinkState::bus_off, "bus_off"}}};

std::string_view text_of_link(LinkState state) {
  for (const auto& [value, text] : kLinkStates)
    if (value == state) return text;
  return "";
}

std::string id_text(CanId id) {
  constexpr char kDigits[] = "0123456789ABCDEF";
  std::string text(id.extended ? 8 : 3, '0');
  std::uint32_t rest = id.value;
  for (auto digit = text.rbegin(); digit != text.rend(); ++digit, rest >>= 4) *digit = kDigits[rest & 15U];
  return text;
}

JsonLine begin(TimePoint at, std::string_view item) {
  JsonLine line;
  line.time("t", at).text("item", item);
  return line;
}

/// The JSON object of every item but a frame.
struct ObjectText {
  std::string operator()(const Settings& s) const {
    JsonLine values;
    for (const auto& [key, value] : s.values) values.text(key, value);
    return begin(s.at, "settings")
        .text("job", s.job)
        .text("program", s.program)
        .text("time_zone", s.time_zone)
        .raw("values", values.take())
        .take();
  }
  std::string operator()(const DecoderText& d) const {
    return begin(d.at, "decoder_text").text("name", d.name).text("text", d.text).take();
  }
  std::string operator()(const Entry& e) const {
    return begin(e.at, "entry").text("id", e.id).text("name", e.name).raw("fields", e.fields).take();
  }
  std::string operator()(const LinkEvent& l) const {
    return begin(l.at, "link").text("bus", l.bus.text()).text("state", text_of_link(l.state)).take();
  }
  std::string operator()(const ReceiveDrops& d) const {
    return begin(d.at, "drops")
        .text("bus", d.bus.text())
        .integer("frames", static_cast<std::int64_t>(d.frames))
        .take();
  }
  std::string operator()(const ClockStep& c) const {
    return begin(c.at, "clock_step").integer("step_us", c.step.count()).take();
  }
  std::string operator()(const ScanMark& s) const {
    return begin(s.at, "scan").text("scan", s.scan).flag("begun", s.begun).take();
  }
  std::string operator()(const OtherTester& o) const {
    return begin(o.at, "other_tester").text("bus", o.bus.text()).text("id", id_text(o.id)).take();
  }
  std::string operator()(const Torn& t) const {
    return begin(t.at, "torn").integer("bytes", static_cast<std::int64_t>(t.bytes)).take();
  }
  std::string operator()(const Advance& a) const { return begin(a.at, "advance").take(); }
  std::string operator()(const Resume& r) const { return begin(r.at, "resume").take(); }
  std::string operator()(const End& e) const { return begin(e.at, "end").take(); }
  std::string operator()(const GivenReading& r) const {
    return begin(r.at, "reading").text("signal", r.signal).text("value", r.value).take();
  }
  std::string operator()(const CanFrame&) const { return {}; }
  std::string operator()(const Unreadable&) const {
    assert(false && "only readers make Unreadable");
    return {};
  }
};

std::string part_line(std::size_t part, std::size_t of, std::string_view escaped) {
  return "# {\"part\":" + std::to_string(part) + ",\"of\":" + std::to_string(of) + ",\"text\":\"" +
         std::string(escaped) + "\"}";
}

/// Bytes of the character that starts at `at`; the text is valid UTF-8 because json_string made it.
std::size_t character_length(std::string_view text, std::size_t at) {
  const auto lead = static_cast<unsigned char>(text[at]);
  const std::size_t n = lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
  return std::min(n, text.size() - at);
}

std::vector<std::string> in_parts(const std::string& object) {
  static const std::size_t kRoom = kMaxItemLine - part_line(kMostParts, kMostParts, "").size();
  std::vector<std::string> pieces(1);
  for (std::size_t at = 0; at < object.size();) {
    const std::size_t n = character_length(object, at);
    const std::string quoted = json_string(std::string_view(object).substr(at, n));
    const std::string_view escaped = std::string_view(quoted).substr(1, quoted.size() - 2);
    if (pieces.back().size() + escaped.size() > kRoom) pieces.emplace_back();
    pieces.back() += escaped;
    at += n;
  }
  std::vector<std::string> lines;
  lines.reserve(pieces.size());
  for (std::size_t i = 0; i < pieces.size(); ++i) lines.push_back(part_line(i + 1, pieces.size(), pieces[i]));
  return lines;
}

/// What a line of a job file must hold, or the clause that says what is wrong. Thrown only inside this file.
struct BadLine {
  std::string why;
};

const Json& member(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end()) throw BadLine{"key '" + std::string(key) + "' is missing"};
  return *found;
}
std::string text_at(const Json& object, const char* key) {
  const Json& value = member(object, key);
  if (!value.is_string()) throw BadLine{"'" + std::string(key) + "' is not a text"};
  return value.get<std::string>();
}
std::int64_t integer_at(const Json& object, const char* key) {
  const Json& value = member(object, key);
  if (!value.is_number_integer()) throw BadLine{"'" + std::string(key) + "' is not a whole number"};
  constexpr auto kLargest = static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
  if (value.is_number_unsigned() && value.get<std::uint64_t>() > kLargest)
    throw BadLine{"'" + std::string(key) + "' is too large"};
  return value.get<std::int64_t>();
}
std::uint64_t count_at(const Json& object, const char* key) {
  const std::int64_t value = integer_at(object, key);
  if (value < 0) throw BadLine{"'" + std::string(key) + "' is negative"};
  return static_cast<std::uint64_t>(value);
}
TimePoint time_at(const Json& object) {
  const Json& value = member(object, "t");
  if (!value.is_number()) throw BadLine{"'t' is not a number"};
  const double seconds = value.get<double>();
  if (!(std::abs(seconds) <= kLatestSecond)) throw BadLine{"'t' is out of range"};
  // Whole seconds apart: their product with 1e6 would round a second time, and half microseconds tip over.
  const double whole = std::floor(seconds);
  return at_micros(static_cast<std::int64_t>(whole) * 1000000 + std::llround((seconds - whole) * 1e6));
}
BusName bus_at(const Json& object) {
  const std::string text = text_at(object, "bus");
  if (text.empty() || text.size() > BusName::kMaxLength) throw BadLine{"'bus' is not an interface name"};
  return BusName{text};
}
CanId id_at(const Json& object) {
  const std::string text = text_at(object, "id");
  const bool extended = text.size() == 8;
  if (!extended && text.size() != 3) throw BadLine{"'id' has neither 3 nor 8 digits"};
  std::uint32_t value = 0;
  for (const char c : text) {
    const bool digit = c >= '0' && c <= '9';
    if (!digit && (c < 'A' || c > 'F')) throw BadLine{"'id' is not upper-case hex"};
    value = value << 4 | static_cast<std::uint32_t>(digit ? c - '0' : c - 'A' + 10);
  }
  if (value > (extended ? 0x1FFFFFFFU : 0x7FFU)) throw BadLine{"'id' is out of range"};
  return {value, extended};
}
LinkState link_state_at(const Json& object) {
  const std::string text = text_at(object, "state");
  for (const auto& [value, name] : kLinkStates)
    if (name == text) return value;
  throw BadLine{"unknown link state '" + text + "'"};
}

Item item_of(const Json& o) {
  const std::string kind = text_at(o, "item");
  const TimePoint at = time_at(o);
  if (kind == "advance") return Advance{at};
  if (kind == "entry") {
    const Json& fields = member(o, "fields");
    if (!fields.is_object()) throw BadLine{"'fields' is not an object"};
    return Entry{at, text_at(o, "id"), text_at(o, "name"), fields.dump()};
  }
  if (kind == "settings") {
    Settings s{at, text_at(o, "job"), text_at(o, "program"), text_at(o, "time_zone"), {}};
    const Json& values = member(o, "values");
    if (!values.is_object()) throw BadLine{"'values' is not an object"};
    for (const auto& [key, value] : values.items()) {
      if (!value.is_string()) throw BadLine{"setting '" + key + "' is not a text"};
      s.values.emplace_back(key, value.get<std::string>());
    }
    return s;
  }
  if (kind == "decoder_text") return DecoderText{at, text_at(o, "name"), text_at(o, "text")};
  if (kind == "link") return LinkEvent{at, bus_at(o), link_state_at(o)};
  if (kind == "drops") return ReceiveDrops{at, bus_at(o), count_at(o, "frames")};
  if (kind == "clock_step") return ClockStep{at, Duration{integer_at(o, "step_us")}};
  if (kind == "scan") {
    const Json& begun = member(o, "begun");
    if (!begun.is_boolean()) throw BadLine{"'begun' is neither true nor false"};
    return ScanMark{at, begun.get<bool>(), text_at(o, "scan")};
  }
  if (kind == "other_tester") return OtherTester{at, bus_at(o), id_at(o)};
  if (kind == "torn") return Torn{at, count_at(o, "bytes")};
  if (kind == "resume") return Resume{at};
  if (kind == "end") return End{at};
  if (kind == "reading") return GivenReading{at, text_at(o, "signal"), text_at(o, "value")};
  throw BadLine{"unknown item '" + kind + "'"};
}

constexpr std::size_t kDeepestNesting = 32;  // a hostile line must not exhaust the stack

Json parse_object(std::string_view text) {
  std::size_t depth = 0;
  bool in_text = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (in_text) {
      if (text[i] == '\\')
        ++i;
      else if (text[i] == '"')
        in_text = false;
    } else if (text[i] == '"') {
      in_text = true;
    } else if (text[i] == '{' || text[i] == '[') {
      if (++depth > kDeepestNesting) throw BadLine{"nested too deeply"};
    } else if ((text[i] == '}' || text[i] == ']') && depth > 0) {
      --depth;
    }
  }
  Json object = Json::parse(text, nullptr, false);
  if (object.is_discarded() || !object.is_object()) throw BadLine{"not a JSON object"};
  return object;
}

}  // namespace

std::vector<std::string> item_lines(const Item& item) {
  if (const auto* frame = std::get_if<CanFrame>(&item)) return {candump_line(*frame)};
  const std::string object = std::visit(ObjectText{}, item);
  if (object.size() + 2 <= kMaxItemLine) return {"# " + object};
  return in_parts(object);
}

std::string seal_line(const Seal& seal) {
  return "# " + begin(seal.at, "seal")
                    .integer("bytes", static_cast<std::int64_t>(seal.bytes))
                    .text("sha256", seal.sha256)
                    .take();
}

std::optional<Seal> parse_seal(std::string_view line) {
  constexpr std::size_t kDigits = 64;  // SHA-256
  if (!line.starts_with("# {") || line.find("\"item\":\"seal\"") == std::string_view::npos)
    return std::nullopt;
  try {
    const Json object = parse_object(line.substr(2));
    if (text_at(object, "item") != "seal") return std::nullopt;
    Seal seal{time_at(object), count_at(object, "bytes"), text_at(object, "sha256")};
    if (seal.sha256.size() != kDigits ||
        seal.sha256.find_first_not_of("0123456789abcdef") != std::string::npos)
      return std::nullopt;
    return seal;
  } catch (const BadLine&) {
    return std::nullopt;
  }
}

void ItemLineParser::drop_parts() {
  collected_.clear();
  next_part_ = 0;
}

ParsedLine ItemLineParser::on_object(std::string_view json) {
  static const std::string kIncomplete =
      "the item before this line is incomplete: a numbered part is missing";
  ParsedLine parsed;
  try {
    const Json object = parse_object(json);
    if (!object.contains("part")) {
      const Json kind = object.value("item", Json());
      // `torn` says itself that what stands before it was never finished.
      if (parts_held() > 0 && kind != "torn") parsed.problem = kIncomplete;
      drop_parts();
      if (kind != "seal") parsed.item = item_of(object);
      return parsed;
    }
    const std::uint64_t part = count_at(object, "part");
    const std::uint64_t of = count_at(object, "of");
    if (of < 2 || of > kMostParts || part < 1 || part > of) throw BadLine{"part numbers are out of range"};
    if (part == 1) {
      if (parts_held() > 0) parsed.problem = kIncomplete;
      drop_parts();
      part_count_ = of;
    } else if (part != next_part_ || of != part_count_) {
      throw BadLine{"part " + std::to_string(part) + " does not follow the part before it"};
    }
    collected_ += text_at(object, "text");
    if (collected_.size() > kLargestItem) throw BadLine{"the item is longer than 4 MiB"};
    next_part_ = part + 1;
    if (part < of) return parsed;
    const std::string whole = std::move(collected_);
    drop_parts();
    parsed.item = item_of(parse_object(whole));
  } catch (const BadLine& bad) {
    drop_parts();
    parsed.problem = bad.why;
  }
  return parsed;
}

ParsedLine ItemLineParser::on_line(std::string_view line) {
  if (line.empty() || line == kJobFileMagic) return {};
  if (line.starts_with("# ")) return on_object(line.substr(2));
  ParsedLine parsed;
  // The recorder writes one item's lines together: a frame between its parts cannot come from there.
  if (parts_held() > 0) parsed.problem = "a frame stands between the numbered parts of an item";
  drop_parts();
  if (auto frame = parse_candump_line(line)) {
    parsed.item = Item{*frame};
  } else {
    parsed.problem = std::move(frame.error());
  }
  return parsed;
}

}  // namespace sumplog
