#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <string>
#include <string_view>
#include <vector>

#include "core/diagnostics/pairing.h"
#include "core/isotp/frames.h"

namespace sumplog::testing {

/// A pairing with words for a conversation; time is virtual.
class PairingTest : public ::testing::Test {
 protected:
  /// A message from `id` at the present time; what it brought is added to what came before.
  void say(CanId id, std::string_view hex, BusName bus = BusName("can0"),
           std::optional<std::uint8_t> address = {}) {
    Message message;
    message.at = message.first_at = now_;
    message.from = {bus, id, address};
    message.payload = isotp_words::bytes(hex);
    take(pairing_.on_message(message));
  }
  void ask(std::uint32_t id, std::string_view hex) { say(standard_id(id), hex); }
  void answer(CanId id, std::string_view hex) { say(id, hex); }
  /// Time passes; deadlines fire on the way, as the core's flow does it.
  void wait(Duration d) {
    const TimePoint until = now_ + d;
    while (const auto due = pairing_.deadline()) {
      if (*due > until) break;
      now_ = *due;
      take(pairing_.on_deadline(*due));
    }
    now_ = until;
  }
  void transfer_starts(CanId id) { pairing_.on_transfer({BusName("can0"), id, std::nullopt}); }
  void transfer_breaks(CanId id) {
    take(pairing_.on_transfer_lost({BusName("can0"), id, std::nullopt}, now_));
  }

  /// "7E1>7E9 answered 62D10549", "7DF>nobody silent", with "+2" for two 0x78 before.
  std::vector<std::string> said() const {
    std::vector<std::string> texts;
    for (const Exchange& e : exchanges_) {
      std::string text = ecu_text(e.request.id, e.request.address) + ">" +
                         (e.unit ? ecu_text(e.unit->id, e.unit->address) : "nobody");
      switch (e.result) {
        case ExchangeResult::answered: text += " answered"; break;
        case ExchangeResult::refused: text += " refused " + std::to_string(e.negative_code); break;
        case ExchangeResult::silent: text += " silent"; break;
      }
      if (e.pending > 0) text += " +" + std::to_string(e.pending);
      texts.push_back(std::move(text));
    }
    return texts;
  }
  void take(PairingStep&& step) {
    for (Exchange& e : step.exchanges) exchanges_.push_back(std::move(e));
    for (TransportLoss& l : step.losses) losses_.push_back(std::move(l));
  }

  Pairing pairing_{
      AddressBook({{standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1}})};
  TimePoint now_ = isotp_words::kStart;
  std::vector<Exchange> exchanges_;
  std::vector<TransportLoss> losses_;
};

using Said = std::vector<std::string>;

}  // namespace sumplog::testing
