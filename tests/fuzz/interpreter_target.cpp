#include "core/codes/code_answer.h"
#include "core/diagnostics/interpreter.h"
#include "fuzz/feed.h"
#include "fuzz/flow_check.h"

namespace sumplog::fuzz {
namespace {

std::vector<Decoder> all_decoders() {
  std::vector<Decoder> all;
  for (const char* name :
       {"decoders/obd-generic", "decoders/demo-9", "decoders/j1939-transmission", "tests/fuzz/car"}) {
    const std::string path = std::string(name) + "/signals.toml";
    auto decoder = parse_decoder(source_text(path), path);
    require(decoder.has_value(), "no decoder: " + path);
    all.push_back(std::move(*decoder));
  }
  return all;
}

constexpr TimePoint kAt = at_micros(1700000000000000);
const BusName kBus("can0");

std::vector<std::uint8_t> payload_from(Feed& feed) {
  const Bytes taken = feed.bytes(feed.byte());
  return {taken.begin(), taken.end()};
}

Exchange exchange_from(Feed& feed) {
  Exchange exchange;
  exchange.asked_at = exchange.ended_at = kAt;
  const auto unit = static_cast<std::uint32_t>(feed.below(8));
  exchange.request = {kBus, standard_id(0x7E0 + unit), std::nullopt};
  exchange.unit = Endpoint{kBus, standard_id(0x7E8 + unit), std::nullopt};
  exchange.asked = payload_from(feed);
  if (exchange.asked.empty()) exchange.asked = {1};
  switch (feed.below(4)) {
    case 0: break;
    case 1:
      exchange.result = ExchangeResult::refused;
      exchange.negative_code = feed.byte();
      break;
    default:
      // As the pairing hands it over: the echo of the service is right, everything behind it may be anything.
      exchange.result = ExchangeResult::answered;
      exchange.response = payload_from(feed);
      if (exchange.response.empty()) exchange.response.push_back(0);
      exchange.response[0] = static_cast<std::uint8_t>(exchange.asked[0] + 0x40);
  }
  return exchange;
}

void take(Bytes bytes) {
  static const std::vector<Decoder> decoders = all_decoders();
  static const Interpreter fresh(decoders);
  Interpreter interpreter = fresh;
  JournalWatch watch(decoders);
  Feed feed(bytes);
  while (!feed.empty()) {
    Output out;
    switch (feed.below(4)) {
      case 0: {
        CanFrame frame =
            data_frame(kAt, kBus, (feed.byte() & 1U) != 0 ? standard_id(0x3A0) : standard_id(0x3A1),
                       feed.bytes(feed.below(65)));
        interpreter.on_broadcast(frame, out.events);
        break;
      }
      case 1: {
        Message message;
        message.at = message.first_at = kAt;
        message.group = feed.number(3) & 0x3FFFFU;
        message.from = {kBus, extended_id(0x18000000U | *message.group << 8U | feed.byte()), std::nullopt};
        message.payload = payload_from(feed);
        if (interpreter.wants(*message.group)) interpreter.on_group(message, out.events);
        break;
      }
      default: {
        const Exchange exchange = exchange_from(feed);
        interpreter.on_exchange(exchange, out.events);
        for (const ReadingEvent& reading : interpreter.frozen_values(exchange))
          out.events.emplace_back(reading);
      }
    }
    watch.on_output(out);
  }
}
const Registered kTarget("interpreter", take);

}  // namespace
}  // namespace sumplog::fuzz
