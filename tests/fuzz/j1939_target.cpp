#include "core/j1939/diagnostic_message.h"
#include "core/j1939/transport.h"
#include "fuzz/message_check.h"

namespace sumplog::fuzz {
namespace {

constexpr std::size_t kLongest = 1785;  // bytes; SAE J1939-21, 255 packets of 7

class Listener {
 public:
  void on_frame(const CanFrame& frame) {
    while (const auto due = transport_.deadline()) {
      if (*due > frame.at) break;
      const std::size_t before = waiting_;
      on_step(transport_.on_deadline(*due));
      waiting_ = transport_.deadline() == due ? before + 1 : 0;
      require(waiting_ <= J1939Transport::kMaxTransfers, "a deadline stands still");
    }
    if (const auto id = split_identifier(frame.id)) {
      require(join_identifier(*id) == CanId{frame.id.value & 0x1FFFFFFFU, true}, "an identifier changes");
      heard_[id->source].hear(frame);
    }
    on_step(transport_.on_frame(frame));
    if (const auto single = single_frame_message(frame)) on_message(*single);
  }
  void end(TimePoint at) {
    for (;;) {
      const TransportStep step = transport_.on_end(at);
      if (!step.loss) break;
      on_step(step);
    }
  }

 private:
  void on_step(const TransportStep& step) {
    if (step.loss) require(step.loss->frames > 0, "a loss of nothing");
    if (step.reply) require(split_identifier(step.reply->id)->source == 0xF9, "a reply in another's name");
    if (step.message) on_message(*step.message);
  }
  void on_message(const Message& message) {
    require(message.group.has_value(), "a message of no group");
    require(message.payload.size() <= kLongest, "a message beyond its limit");
    heard_[split_identifier(message.from.id)->source].require_heard(message);
    const auto codes = read_diagnostic_message(message.payload);
    if (codes) require(codes->codes.size() * 4 <= message.payload.size(), "more codes than bytes");
  }

  J1939Transport transport_;
  std::map<std::uint8_t, HeardBytes> heard_;
  std::size_t waiting_ = 0;
};

constexpr std::array<std::uint32_t, 10> kGroups{0xEC00, 0xEB00, 0xEC00, 0xEB00, 0xEA00,
                                                0xEE00, 0xFECA, 0xFECB, 0xFEF8, 0xFEEC};

void take(Bytes bytes) {
  Feed feed(bytes);
  Listener listener;
  CanFrame frame;
  frame.at = kFirstFrame;
  frame.bus = BusName("can0");
  while (!feed.empty()) {
    const std::uint8_t head = feed.byte();
    frame.at = std::max(frame.at, frame.at + gap(head & 0xFU));
    J1939Identifier id;
    id.group = kGroups[feed.below(kGroups.size())];
    id.source = (head & 0x10U) != 0 ? feed.byte() : 3;
    id.destination = (head & 0x20U) != 0 ? 0xF9 : 0xFF;
    frame.id = join_identifier(id);
    frame.fd = false;
    set_data_from(feed, frame);
    listener.on_frame(frame);
  }
  listener.end(frame.at);
}
const Registered kTarget("j1939", take);

}  // namespace
}  // namespace sumplog::fuzz
