#pragma once
#include <array>
#include <nlohmann/json.hpp>
#include <random>
#include <string>
#include <vector>

#include "core/item/item.h"
#include "core/item/item_text.h"

namespace sumplog::testing {

/// Everything in an item as one text: two items are the same when their texts are.
inline std::string whole(const Item& item) {
  struct Text {
    std::string operator()(const Settings& s) const {
      std::string text = s.job + "|" + s.program + "|" + s.time_zone;
      for (const auto& [key, value] : s.values) text += "|" + key + "=" + value;
      return text;
    }
    std::string operator()(const DecoderText& d) const { return d.name + "|" + d.text; }
    std::string operator()(const CanFrame& f) const {
      std::string text = std::string(f.bus.text()) + "|" + std::to_string(f.id.value) + "|" +
                         std::to_string(f.id.extended) + std::to_string(static_cast<int>(f.kind)) +
                         std::to_string(f.fd) + std::to_string(f.bit_rate_switch) +
                         std::to_string(f.error_state) + "|" + std::to_string(f.length);
      for (const std::uint8_t b : f.data()) text += " " + std::to_string(b);
      return text;
    }
    std::string operator()(const Entry& e) const { return e.id + "|" + e.name + "|" + e.fields; }
    std::string operator()(const LinkEvent& l) const {
      return std::string(l.bus.text()) + "|" + std::to_string(static_cast<int>(l.state));
    }
    std::string operator()(const ReceiveDrops& d) const {
      return std::string(d.bus.text()) + "|" + std::to_string(d.frames);
    }
    std::string operator()(const ClockStep& c) const { return std::to_string(c.step.count()); }
    std::string operator()(const ScanMark& s) const { return s.scan + "|" + std::to_string(s.begun); }
    std::string operator()(const OtherTester& o) const {
      return std::string(o.bus.text()) + "|" + std::to_string(o.id.value) + "|" +
             std::to_string(o.id.extended);
    }
    std::string operator()(const Torn& t) const { return std::to_string(t.bytes); }
    std::string operator()(const Advance&) const { return {}; }
    std::string operator()(const Resume&) const { return {}; }
    std::string operator()(const End&) const { return {}; }
    std::string operator()(const GivenReading& r) const { return r.signal + "|" + r.value; }
    std::string operator()(const Unreadable& u) const { return std::to_string(u.line) + "|" + u.why; }
  };
  return std::to_string(item.index()) + "@" + std::to_string(micros(time_of(item))) + "|" +
         std::visit(Text{}, item);
}

/// Items of every kind that a recorder writes, with texts that are hard to carry.
class RandomItems {
 public:
  explicit RandomItems(std::uint32_t seed) : random_(seed) {}

  Item next() {
    constexpr int kKinds = 14;
    return of_kind(static_cast<int>(number(0, kKinds - 1)));
  }

  Item of_kind(int kind) {
    const TimePoint at = at_micros(number(0, 3) == 0 ? number(-5000000, 5000000)
                                                     : 1700000000000000 + number(0, 100000000000000));
    switch (kind) {
      case 0: {
        Settings s{at, text(32), text(20), text(20), {}};
        for (auto n = number(0, 8); n > 0; --n) s.values.emplace_back(text(12) + std::to_string(n), text(80));
        return s;
      }
      case 1: return DecoderText{at, text(20), text(number(0, 4) == 0 ? 20000 : 400)};
      case 2: return frame(at);
      case 3: return Entry{at, text(30), text(20), fields()};
      case 4: return LinkEvent{at, bus(), static_cast<LinkState>(number(0, 4))};
      case 5: return ReceiveDrops{at, bus(), static_cast<std::uint64_t>(number(0, 1LL << 62))};
      case 6: return ClockStep{at, Duration{number(-(1LL << 62), 1LL << 62)}};
      case 7: return ScanMark{at, number(0, 1) == 1, text(8)};
      case 8: return OtherTester{at, bus(), id()};
      case 9: return Torn{at, static_cast<std::uint64_t>(number(0, 400))};
      case 10: return Advance{at};
      case 11: return Resume{at};
      case 12: return End{at};
      default: return GivenReading{at, text(20), text(10)};
    }
  }

  CanFrame frame(TimePoint at) {
    CanFrame f;
    f.at = at;
    f.bus = bus();
    f.id = id();
    const auto kind = number(0, 9);
    if (kind == 0) {
      f.kind = FrameKind::remote;
      f.length = static_cast<std::uint8_t>(number(0, 8));
      return f;
    }
    f.fd = kind <= 3;
    f.bit_rate_switch = f.fd && number(0, 1) == 1;
    f.error_state = f.fd && number(0, 1) == 1;
    if (kind == 4) {
      f.kind = FrameKind::error;
      f.id = standard_id(static_cast<std::uint32_t>(number(0, 0x1FFFFFFF)));
    }
    f.length = static_cast<std::uint8_t>(number(0, f.fd ? 64 : 8));
    for (std::size_t i = 0; i < f.length; ++i) f.bytes[i] = static_cast<std::uint8_t>(number(0, 255));
    return f;
  }

  /// Valid UTF-8 of characters of every length, quotes, backslashes and control characters among them.
  std::string text(std::int64_t most) {
    static const std::array<std::string, 14> kPieces{
        "a", "Z", "0", " ", "\"", "\\", "\n", "\t", "\x7F", "°", "€", "😀", "\xC2\x80", std::string(1, '\0')};
    std::string out;
    for (auto n = number(0, most); n > 0; --n) out += kPieces[static_cast<std::size_t>(number(0, 13))];
    return out;
  }

  std::int64_t number(std::int64_t low, std::int64_t high) {
    return std::uniform_int_distribution<std::int64_t>(low, high)(random_);
  }

 private:
  BusName bus() { return BusName("can" + std::to_string(number(0, 99999))); }
  CanId id() {
    return number(0, 1) == 0 ? standard_id(static_cast<std::uint32_t>(number(0, 0x7FF)))
                             : extended_id(static_cast<std::uint32_t>(number(0, 0x1FFFFFFF)));
  }
  std::string fields() {
    nlohmann::ordered_json object = nlohmann::ordered_json::object();
    for (auto n = number(0, 6); n > 0; --n) {
      const std::string key = "k" + std::to_string(n) + text(3);
      switch (number(0, 3)) {
        case 0: object[key] = text(200); break;
        case 1: object[key] = number(-1000, 1000); break;
        case 2: object[key] = nullptr; break;
        default: object[key] = {1, text(5), nlohmann::ordered_json::object()}; break;
      }
    }
    return object.dump();
  }

  std::mt19937 random_;
};

/// Feeds lines; the items that came out, and the problems.
struct ReadBack {
  std::vector<Item> items;
  std::vector<std::string> problems;
};
inline ReadBack read_lines(const std::vector<std::string>& lines) {
  ReadBack back;
  ItemLineParser parser;
  for (const std::string& line : lines) {
    ParsedLine parsed = parser.on_line(line);
    if (parsed.item) back.items.push_back(std::move(*parsed.item));
    if (!parsed.problem.empty()) back.problems.push_back(std::move(parsed.problem));
  }
  return back;
}

}  // namespace sumplog::testing
