#include "fuzz/job_script.h"

#include <array>

#include "core/item/json_line.h"
#include "core/j1939/identifier.h"
#include "core/job/setting.h"
#include "core/record/entry_table.h"
#include "fuzz/flow_check.h"
#include "fuzz/message_check.h"

namespace sumplog::fuzz {
namespace {

constexpr std::uint32_t kExtendedBit = 0x80000000;  // linux/can.h, CAN_EFF_FLAG
constexpr std::array<std::uint32_t, 8> kGroups{65262, 65262, 65226, 65227, 60928, 59904, 65272, 65260};
constexpr std::array<std::string_view, 4> kDids{"\x1A\x05", "\x1A\x06", "\xF1\x90", "\xF1\x87"};

std::vector<Item> opening() {
  std::vector<Item> items{Settings{kFirstFrame,
                                   "00112233445566778899aabbccddeeff",
                                   "sumplog 0.1.0",
                                   "Europe/Berlin",
                                   {{std::string(setting::kService), "car"}}}};
  for (const char* name : {"car/signals.toml", "car/service.toml"})
    items.push_back(DecoderText{kFirstFrame, name, source_text(std::string("tests/fuzz/") + name)});
  return items;
}

class Script {
 public:
  explicit Script(Bytes bytes) : feed_(bytes), items_(opening()) {}

  std::vector<Item> run(std::size_t most) {
    while (!feed_.empty() && most-- > 0) step();
    items_.emplace_back(End{std::max(now_, kFirstFrame)});
    return std::move(items_);
  }

 private:
  void step() {
    const std::uint8_t head = feed_.byte();
    now_ += gap(head & 0xFU);
    switch (head >> 4U) {
      case 0: return fluid();
      case 1: return classic(standard_id(0x7DF), {2, 1, feed_.byte()});
      case 2: return ask();
      case 3: return answer();
      case 4:
        return classic(unit_answers(), {0x10, feed_.byte(), feed_.byte(), feed_.byte(), feed_.byte(),
                                        feed_.byte(), feed_.byte(), feed_.byte()});
      case 5: return consecutive();
      case 6:
        return classic(standard_id(0x7E0U + static_cast<std::uint32_t>(feed_.below(8))),
                       {0x30, feed_.byte(), feed_.byte()});
      case 7: return any_frame();
      case 8: return group();
      case 9: return announcement();
      case 10: return packet();
      case 11: return sent();
      case 12: return entry();
      case 13: return other();
      case 14: return codes();
      default: return engine();
    }
  }

  void classic(CanId id, std::vector<std::uint8_t> data) {
    CanFrame frame = data_frame(now_, bus_, id, data);
    frame.length = 8;
    items_.emplace_back(frame);
  }
  CanId unit_answers() { return standard_id(0x7E8U + static_cast<std::uint32_t>(feed_.below(8))); }

  /// Request and answer of the fluid temperature: one byte is a reading, half a second apart.
  void fluid() {
    classic(standard_id(0x7E1), {3, 0x22, 0x1A, 0x05});
    now_ += Duration{5000};
    classic(standard_id(0x7E9), {4, 0x62, 0x1A, 0x05, feed_.byte()});
    now_ += Duration{495'000};
  }
  void engine() {
    classic(standard_id(0x7DF), {3, 1, 0x0C, 0x0D});
    now_ += Duration{9000};
    classic(standard_id(0x7E8), {6, 0x41, 0x0C, feed_.byte(), feed_.byte(), 0x0D, feed_.byte()});
  }
  void ask() {
    const std::uint8_t unit = feed_.byte();
    const std::string_view did = kDids[unit >> 4U & 3U];
    classic(standard_id(0x7E0U + (unit & 7U)),
            {3, static_cast<std::uint8_t>((unit & 8U) != 0 ? 0x21 : 0x22), static_cast<std::uint8_t>(did[0]),
             static_cast<std::uint8_t>(did[1])});
  }
  /// A question for fault codes and what a unit says.
  void codes() {
    constexpr std::array<std::uint8_t, 6> kServices{0x03, 0x07, 0x0A, 0x19, 0x02, 0x09};
    const std::uint8_t service = kServices[feed_.below(kServices.size())];
    classic(standard_id(0x7E0), {3, service, feed_.byte(), feed_.byte()});
    now_ += Duration{5000};
    const auto length = static_cast<std::uint8_t>(1 + feed_.below(7));
    std::vector<std::uint8_t> data{length, static_cast<std::uint8_t>(service + 0x40)};
    for (const std::uint8_t byte : feed_.bytes(length - 1U)) data.push_back(byte);
    classic(standard_id(0x7E8), data);
  }
  void answer() {
    const CanId id = unit_answers();
    std::vector<std::uint8_t> data{feed_.byte()};
    for (const std::uint8_t byte : feed_.bytes(data[0] & 7U)) data.push_back(byte);
    classic(id, data);
  }
  void consecutive() {
    const CanId id = unit_answers();
    std::vector<std::uint8_t> data{static_cast<std::uint8_t>(0x20U | (feed_.byte() & 0xFU))};
    for (int i = 0; i < 7; ++i) data.push_back(feed_.byte());
    classic(id, data);
  }
  void any_frame() {
    const std::uint32_t id = feed_.number(4);
    CanFrame frame;
    frame.at = now_;
    frame.bus = bus_;
    const bool extended = (id & kExtendedBit) != 0;
    frame.id = extended ? extended_id(id & 0x1FFFFFFFU) : standard_id(id & 0x7FFU);
    set_data_from(feed_, frame);
    const std::uint8_t kind = feed_.byte();
    if (!frame.fd && kind == 1) frame.kind = FrameKind::remote;
    if (!frame.fd && kind == 2) {
      frame.kind = FrameKind::error;
      frame.id = standard_id(id & 0x1FFFFFFFU);
      frame.length = 8;
    }
    items_.emplace_back(frame);
  }
  CanId group_id(std::uint32_t pgn, std::uint8_t destination) {
    J1939Identifier id;
    id.group = pgn;
    id.source = (feed_.byte() & 1U) != 0 ? 0 : 3;
    id.destination = destination;
    return join_identifier(id);
  }
  void group() {
    std::vector<std::uint8_t> data;
    const std::uint32_t pgn = kGroups[feed_.below(kGroups.size())];
    for (int i = 0; i < 8; ++i) data.push_back(feed_.byte());
    classic(group_id(pgn, 0xFF), data);
  }
  void announcement() {
    const std::uint32_t pgn = kGroups[feed_.below(kGroups.size())];
    const std::uint8_t size = feed_.byte();
    const bool to_all = (feed_.byte() & 1U) != 0;
    classic(group_id(0xEC00, to_all ? 0xFF : 0xF9),
            {static_cast<std::uint8_t>(to_all ? 0x20 : 0x10), size, 0,
             static_cast<std::uint8_t>((size + 6) / 7), 0xFF, static_cast<std::uint8_t>(pgn),
             static_cast<std::uint8_t>(pgn >> 8U), static_cast<std::uint8_t>(pgn >> 16U)});
  }
  void packet() {
    std::vector<std::uint8_t> data;
    const bool to_all = (feed_.byte() & 1U) != 0;
    for (int i = 0; i < 8; ++i) data.push_back(feed_.byte());
    classic(group_id(0xEB00, to_all ? 0xFF : 0xF9), data);
  }
  void sent() {
    std::vector<std::uint8_t> data;
    for (int i = 0; i < 8; ++i) data.push_back(feed_.byte());
    classic(standard_id(0x3A0), data);
  }

  /// An entry with some of its fields, in their limits or beside them; or with any text in the place of its fields.
  void entry() {
    const auto& table = entry_table();
    const EntryRule& rule = table[feed_.below(table.size())];
    const std::uint8_t how = feed_.byte();
    Entry made{now_, std::to_string(how & 0xFU) + "-" + std::to_string(items_.size()), std::string(rule.name),
               "{}"};
    if ((how & 0x10U) != 0) made.id = "again";
    if ((how & 0x20U) != 0) {
      made.fields = feed_.text(feed_.byte());
    } else {
      JsonLine line;
      for (const FieldRule& field : rule.fields)
        if (field.needed || (feed_.byte() & 1U) != 0) add(line, field);
      if ((how & 0x40U) != 0) line.integer("ago_s", feed_.byte());
      made.fields = line.take();
    }
    items_.emplace_back(made);
  }
  void add(JsonLine& line, const FieldRule& field) {
    const double part = feed_.byte() / 250.0;  // a little above the upper limit too
    switch (field.kind) {
      case FieldKind::text: line.text(field.name, feed_.text(feed_.below(9))); break;
      case FieldKind::number: line.number(field.name, field.low + part * (field.high - field.low), 2); break;
      case FieldKind::flag: line.flag(field.name, part > 0.5); break;
      case FieldKind::word: line.text(field.name, field.words[feed_.below(field.words.size())]); break;
      case FieldKind::texts: line.texts(field.name, {feed_.text(feed_.below(9))}); break;
    }
  }

  void other() {
    constexpr std::array<const char*, 4> kScans{"before", "after", "during", "x"};
    constexpr std::array<const char*, 4> kSignals{"fluid_temperature", "engine_speed", "coolant_temperature",
                                                  "x"};
    switch (feed_.below(12)) {
      case 0: items_.emplace_back(LinkEvent{now_, bus_, static_cast<LinkState>(feed_.below(5))}); break;
      case 1: items_.emplace_back(ReceiveDrops{now_, bus_, feed_.number(4)}); break;
      case 2:
        items_.emplace_back(ClockStep{now_, Duration{static_cast<std::int32_t>(feed_.number(4))}});
        break;
      case 3: items_.emplace_back(ScanMark{now_, true, kScans[feed_.below(4)]}); break;
      case 4: items_.emplace_back(ScanMark{now_, false, kScans[feed_.below(4)]}); break;
      case 5:
        items_.emplace_back(
            OtherTester{now_, bus_, standard_id(0x7E0U + static_cast<std::uint32_t>(feed_.below(8)))});
        break;
      case 6: items_.emplace_back(Torn{now_, feed_.number(2)}); break;
      case 7: items_.emplace_back(Advance{now_}); break;
      case 8: items_.emplace_back(Resume{now_}); break;
      case 9:
        items_.emplace_back(GivenReading{now_, kSignals[feed_.below(4)], feed_.text(feed_.below(9))});
        break;
      case 10: bus_ = BusName(feed_.below(2) == 0 ? "can0" : "can1"); break;
      default: now_ += std::chrono::minutes(feed_.byte()); break;
    }
  }

  Feed feed_;
  std::vector<Item> items_;
  TimePoint now_ = kFirstFrame + std::chrono::seconds{1};
  BusName bus_{"can0"};
};

}  // namespace

std::vector<Item> job_script(Bytes bytes, std::size_t most) {
  return Script(bytes).run(most);
}

const std::vector<Decoder>& script_decoders() {
  static const std::vector<Decoder> decoders = [] {
    auto decoder = parse_decoder(source_text("tests/fuzz/car/signals.toml"), "car/signals.toml");
    require(decoder.has_value(), decoder ? "" : decoder.error().text());
    return std::vector<Decoder>{std::move(*decoder)};
  }();
  return decoders;
}

}  // namespace sumplog::fuzz
