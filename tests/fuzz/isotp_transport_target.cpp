#include "core/diagnostics/pairing.h"
#include "core/isotp/transport.h"
#include "fuzz/message_check.h"

namespace sumplog::fuzz {
namespace {

constexpr std::array<CanId, 16> kIds{
    standard_id(0x7DF),      standard_id(0x7E0),      standard_id(0x7E1),      standard_id(0x7E8),
    standard_id(0x7E9),      standard_id(0x7EF),      standard_id(0x6F1),      standard_id(0x612),
    extended_id(0x18DB33F1), extended_id(0x18DA10F1), extended_id(0x18DAF110), extended_id(0x18DAF118),
    extended_id(0x18CEF110), extended_id(0x18CE10F1), standard_id(0x123),      extended_id(0x7E8)};

AddressBook book() {
  return AddressBook({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}});
}

/// The transport of all units, and the pairing behind it: requests and answers find each other or are told as lost.
class Listener {
 public:
  void on_frame(const CanFrame& frame) {
    fire_until(frame.at);
    heard_[{frame.bus, frame.id}].hear(frame);
    on_step(transport_.on_frame(frame));
  }
  void end(TimePoint at) {
    for (;;) {
      TransportStep step = transport_.on_end(at);
      if (!step.loss) break;
      on_step(std::move(step));
    }
    require(!transport_.deadline(), "a transfer outlives the end");
  }

 private:
  static constexpr std::size_t kMostRequests = 1000;  // far more than identifiers that this target asks on

  void fire_until(TimePoint at) {
    for (;;) {
      const auto first = transport_.deadline();
      const auto second = pairing_.deadline();
      if (first && *first <= at && (!second || *first <= *second)) {
        on_step(transport_.on_deadline(*first));
        require(transport_.deadline() != first || ++same_ < kMostRequests, "a deadline stands still");
      } else if (second && *second <= at) {
        on_step(pairing_.on_deadline(*second));
        require(pairing_.deadline() != second || ++same_ < kMostRequests,
                "a deadline of an answer stands still");
      } else {
        same_ = 0;
        return;
      }
    }
  }
  void on_step(TransportStep&& step) {
    if (step.receiving) pairing_.on_transfer(*step.receiving);
    if (step.loss) {
      require(step.loss->frames > 0, "a loss of nothing");
      if (!step.receiving) on_step(pairing_.on_transfer_lost(step.loss->from, step.loss->at));
    }
    if (step.message) {
      heard_[{step.message->from.bus, step.message->from.id}].require_heard(*step.message);
      on_step(pairing_.on_message(*step.message));
    }
  }
  static void on_step(const PairingStep& step) {
    for (const Exchange& exchange : step.exchanges) {
      require(exchange.asked_at <= exchange.ended_at, "an answer before its question");
      require(!exchange.asked.empty(), "an exchange without a question");
      require(exchange.response.empty() == (exchange.result != ExchangeResult::answered),
              "an answer, and there is none");
      if (exchange.result == ExchangeResult::answered)
        require(exchange.response[0] == exchange.asked[0] + 0x40, "an answer to another question");
    }
  }

  Transport transport_{book()};
  Pairing pairing_{book()};
  std::map<std::pair<BusName, CanId>, HeardBytes> heard_;
  std::size_t same_ = 0;
};

void take(Bytes bytes) {
  Feed feed(bytes);
  Listener listener;
  CanFrame frame;
  frame.at = kFirstFrame;
  while (!feed.empty()) {
    const std::uint8_t head = feed.byte();
    frame.at = std::max(frame.at, frame.at + gap(head & 0xFU));
    frame.bus = BusName((head & 0x10U) != 0 ? "can1" : "can0");
    frame.id = (head & 0x20U) != 0 ? extended_id(0x18DAF100U | feed.byte()) : kIds[feed.below(kIds.size())];
    frame.fd = false;
    set_data_from(feed, frame);
    listener.on_frame(frame);
  }
  listener.end(frame.at);
}
const Registered kTarget("isotp_transport", take);

}  // namespace
}  // namespace sumplog::fuzz
