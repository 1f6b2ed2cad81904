#include "core/diagnostics/pairing.h"

#include <gtest/gtest.h>

#include <chrono>
#include <string_view>

#include "core/isotp/frames.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;

constexpr TimePoint kStart = at_micros(1700000000000000);
const CanId kFunctional = standard_id(0x7DF);
const CanId kEngine = standard_id(0x7E8);
const CanId kTransmission = standard_id(0x7E9);

class PairingTest : public ::testing::Test {
 protected:
  /// A message from `id` at the present time; what it brought is added to what came before.
  void say(CanId id, std::string_view hex, BusName bus = BusName("can0"),
           std::optional<std::uint8_t> address = {}) {
    Message message;
    message.at = message.first_at = now_;
    message.from = {bus, id, address};
    message.payload = bytes(hex);
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
  void transfer_starts(CanId id) { pairing_.on_transfer_started({BusName("can0"), id, std::nullopt}); }
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
  TimePoint now_ = kStart;
  std::vector<Exchange> exchanges_;
  std::vector<TransportLoss> losses_;
};

using Said = std::vector<std::string>;

// --- normal ---

TEST_F(PairingTest, APhysicalAnswerBelongsToItsRequest) {
  ask(0x7E1, "22D105");
  wait(30ms);
  answer(kTransmission, "62D10549");
  ASSERT_EQ(said(), Said{"7E1>7E9 answered"});
  const Exchange& e = exchanges_.front();
  EXPECT_EQ(e.asked_at, kStart);
  EXPECT_EQ(e.ended_at, kStart + 30ms);
  EXPECT_EQ(e.asked, bytes("22D105"));
  EXPECT_EQ(e.response, bytes("62D10549"));
  EXPECT_TRUE(losses_.empty());
  EXPECT_FALSE(pairing_.deadline());
}

TEST_F(PairingTest, EveryUnitMayAnswerAFunctionalRequest) {
  ask(0x7DF, "010C");
  wait(10ms);
  answer(kTransmission, "410C0AF0");
  answer(kEngine, "410C0AF4");
  wait(5s);
  EXPECT_EQ(said(), (Said{"7DF>7E9 answered", "7DF>7E8 answered"}));
  EXPECT_TRUE(losses_.empty());
}

TEST_F(PairingTest, NobodyAnsweringIsOneSilentExchangeAfterASecond) {
  ask(0x7DF, "010C");
  wait(999999us);
  EXPECT_TRUE(exchanges_.empty());
  wait(1us);
  ASSERT_EQ(said(), Said{"7DF>nobody silent"});
  EXPECT_EQ(exchanges_.front().ended_at, kStart + 1s);
}

TEST_F(PairingTest, ASilentPhysicalRequestNamesTheUnitThatWasAsked) {
  ask(0x7E1, "22D105");
  wait(2s);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
}

TEST_F(PairingTest, ANegativeResponseIsARefusalWithItsCode) {
  ask(0x7E1, "22D105");
  answer(kTransmission, "7F2231");  // ISO 14229-1: requestOutOfRange
  ASSERT_EQ(said(), Said{"7E1>7E9 refused 49"});
  EXPECT_TRUE(exchanges_.front().response.empty());
}

TEST_F(PairingTest, OfSeveralParametersAnyMayComeFirst) {
  ask(0x7E0, "010C0D05");
  answer(kEngine, "41057B0C1AF80D32");
  EXPECT_EQ(said(), Said{"7E0>7E8 answered"});
}

TEST_F(PairingTest, ServicesWithoutAnIdentifierNeedNoEcho) {
  ask(0x7E0, "03");
  answer(kEngine, "4300");
  EXPECT_EQ(said(), Said{"7E0>7E8 answered"});
}

TEST_F(PairingTest, Identifiers29BitPairByTheirAddresses) {
  say(extended_id(0x18DA18F1), "22D105");
  say(extended_id(0x18DB33F1), "010C");
  say(extended_id(0x18DAF110), "410C0AF0");
  say(extended_id(0x18DAF118), "62D10549");
  EXPECT_EQ(said(), (Said{"18DB33F1>18DAF110 answered", "18DA18F1>18DAF118 answered"}));
}

TEST_F(PairingTest, AnElevenBitFunctionalRequestIsNotAnsweredBy29Bit) {
  ask(0x7DF, "010C");
  say(extended_id(0x18DAF110), "410C0AF0");
  EXPECT_TRUE(exchanges_.empty());
  EXPECT_EQ(losses_.size(), 1U);
}

TEST_F(PairingTest, ExtendedAddressesTellUnitsBehindOneIdentifierApart) {
  say(standard_id(0x6F1), "22D105", BusName("can0"), 0x12);
  say(standard_id(0x612), "62D10549", BusName("can0"), 0x40);  // to another tester
  say(standard_id(0x612), "62D10550", BusName("can0"), 0xF1);
  EXPECT_EQ(said(), Said{"6F1/12>612/F1 answered"});
  EXPECT_EQ(exchanges_.front().response.back(), 0x50);
  EXPECT_EQ(losses_.size(), 1U);
}

// --- 0x78 ---

TEST_F(PairingTest, ResponsePendingKeepsTheRequestOpenForP2Star) {
  ask(0x7E1, "22D105");
  wait(40ms);
  answer(kTransmission, "7F2278");
  wait(4900ms);
  EXPECT_TRUE(exchanges_.empty());
  answer(kTransmission, "7F2278");
  wait(5s);
  answer(kTransmission, "62D10549");
  EXPECT_EQ(said(), Said{"7E1>7E9 answered +2"});
}

TEST_F(PairingTest, ResponsePendingAndThenNothingIsSilentAfterP2Star) {
  ask(0x7E1, "22D105");
  wait(40ms);
  answer(kTransmission, "7F2278");
  wait(kP2StarClient - 1us);
  EXPECT_TRUE(exchanges_.empty());
  wait(1us);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent +1"});
}

TEST_F(PairingTest, AUnitThatAskedForTimeIsMissedAlsoWhenAnotherAnswered) {
  ask(0x7DF, "0906");
  answer(kTransmission, "7F0978");
  answer(kEngine, "490601 1791BC82");
  wait(10s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>7E9 silent +1"}));
}

TEST_F(PairingTest, ResponsePendingMayEndInARefusal) {
  ask(0x7E1, "22D105");
  answer(kTransmission, "7F2278");
  answer(kTransmission, "7F2222");
  EXPECT_EQ(said(), Said{"7E1>7E9 refused 34 +1"});
}

// --- nothing mixes ---

TEST_F(PairingTest, TheAnswerOfAnotherUnitIsNotTaken) {
  ask(0x7E1, "22D105");
  answer(kEngine, "62D10549");
  EXPECT_TRUE(exchanges_.empty());
  ASSERT_EQ(losses_.size(), 1U);
  EXPECT_EQ(losses_.front().why, "answer without a request");
  EXPECT_EQ(losses_.front().frames, 1U);
  answer(kTransmission, "62D10551");
  EXPECT_EQ(said(), Said{"7E1>7E9 answered"});
}

TEST_F(PairingTest, TheAnswerOnAnotherBusIsNotTaken) {
  say(standard_id(0x7E1), "22D105", BusName("can0"));
  say(kTransmission, "62D10549", BusName("can1"));
  EXPECT_TRUE(exchanges_.empty());
  EXPECT_EQ(losses_.size(), 1U);
}

TEST_F(PairingTest, TwoBusesRunSideBySide) {
  say(standard_id(0x7E1), "22D105", BusName("can0"));
  say(standard_id(0x7E1), "22D105", BusName("can1"));
  say(kTransmission, "62D10511", BusName("can1"));
  say(kTransmission, "62D10500", BusName("can0"));
  ASSERT_EQ(exchanges_.size(), 2U);
  EXPECT_EQ(exchanges_[0].unit->bus, BusName("can1"));
  EXPECT_EQ(exchanges_[0].response.back(), 0x11);
  EXPECT_EQ(exchanges_[1].unit->bus, BusName("can0"));
  EXPECT_EQ(exchanges_[1].response.back(), 0x00);
}

TEST_F(PairingTest, AWrongEchoIsNeverTheAnswer) {
  const std::pair<std::string_view, std::string_view> kCases[] = {
      {"22D105", "62D10649"}, {"22D105", "6201D105"}, {"22D105", "62D1"},    {"010C", "410D32"},
      {"010C", "41"},         {"0902", "490401"},     {"2101", "610249"},    {"1902FF", "590100"},
      {"010C", "62D10549"},   {"22D105", "410C0AF0"}, {"020C00", "420D0032"}};
  for (const auto& [asked, answered] : kCases) {
    exchanges_.clear();
    losses_.clear();
    ask(0x7E0, asked);
    answer(kEngine, answered);
    EXPECT_TRUE(exchanges_.empty()) << asked << ' ' << answered;
    EXPECT_EQ(losses_.size(), 1U) << asked << ' ' << answered;
    wait(10s);
    EXPECT_EQ(said(), Said{"7E0>7E8 silent"}) << asked << ' ' << answered;
  }
}

TEST_F(PairingTest, AnswersToAFunctionalAndAPhysicalRequestGoByTheirEcho) {
  ask(0x7DF, "0105");
  ask(0x7E0, "010C");
  answer(kEngine, "41057B");
  answer(kEngine, "410C0AF0");
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7E0>7E8 answered"}));
  EXPECT_TRUE(losses_.empty());
}

TEST_F(PairingTest, OfTwoEqualRequestsTheUnitAnswersTheOneToItselfFirst) {
  ask(0x7DF, "010C");
  ask(0x7E0, "010C");
  answer(kEngine, "410C0AF0");
  answer(kEngine, "410C0AF4");
  EXPECT_EQ(said(), (Said{"7E0>7E8 answered", "7DF>7E8 answered"}));
}

TEST_F(PairingTest, AUnitAnswersOnce) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  answer(kEngine, "410C0AF0");
  ask(0x7E1, "22D105");
  answer(kTransmission, "62D10549");
  answer(kTransmission, "62D10549");
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7E1>7E9 answered"}));
  EXPECT_EQ(losses_.size(), 2U);
}

// --- late, repeated, given up ---

TEST_F(PairingTest, AnAnswerAfterMoreThanASecondIsNoAnswer) {
  ask(0x7E1, "22D105");
  wait(1500ms);
  answer(kTransmission, "62D10549");
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
  EXPECT_EQ(losses_.size(), 1U);
}

TEST_F(PairingTest, ANewRequestGivesTheOneBeforeUpAndItsLateAnswerIsNotTaken) {
  ask(0x7E1, "22D105");
  wait(100ms);
  ask(0x7E1, "22D106");
  answer(kTransmission, "62D10549");
  answer(kTransmission, "62D1064A");
  EXPECT_EQ(said(), (Said{"7E1>7E9 silent", "7E1>7E9 answered"}));
  EXPECT_EQ(exchanges_[0].ended_at, kStart + 100ms);
  EXPECT_EQ(exchanges_[1].asked, bytes("22D106"));
  EXPECT_EQ(losses_.size(), 1U);
}

TEST_F(PairingTest, ARepeatedRequestIsASecondExchange) {
  ask(0x7E1, "22D105");
  wait(200ms);
  ask(0x7E1, "22D105");
  wait(10ms);
  answer(kTransmission, "62D10549");
  ASSERT_EQ(said(), (Said{"7E1>7E9 silent", "7E1>7E9 answered"}));
  EXPECT_EQ(exchanges_[1].asked_at, kStart + 200ms);
}

TEST_F(PairingTest, AnotherTestersSignOfLifeLeavesAnOpenQuestionOpen) {
  ask(0x7DF, "010C");
  ask(0x7DF, "3E80");  // ISO 14229-1: TesterPresent, no positive response wanted
  answer(kEngine, "410C0AF0");
  wait(5s);
  EXPECT_EQ(said(), Said{"7DF>7E8 answered"});
  EXPECT_TRUE(losses_.empty());
}

// --- answers of several frames ---

TEST_F(PairingTest, ATransferInProgressKeepsTheRequestOpenLongerThanASecond) {
  ask(0x7E1, "22D105");
  wait(50ms);
  for (int i = 0; i < 8; ++i) {
    transfer_starts(kTransmission);
    wait(900ms);
  }
  EXPECT_TRUE(exchanges_.empty());
  answer(kTransmission, "62D10549");
  EXPECT_EQ(said(), Said{"7E1>7E9 answered"});
}

TEST_F(PairingTest, ATransferThatBreaksOffLateEndsInSilenceAtOnce) {
  ask(0x7E1, "22D105");
  transfer_starts(kTransmission);
  wait(3s);
  transfer_breaks(kTransmission);
  ASSERT_EQ(said(), Said{"7E1>7E9 silent"});
  EXPECT_EQ(exchanges_.front().ended_at, kStart + 3s);
  EXPECT_FALSE(pairing_.deadline());
}

TEST_F(PairingTest, ATransferThatBreaksOffEarlyLeavesTheRestOfTheSecond) {
  ask(0x7E1, "22D105");
  transfer_starts(kTransmission);
  wait(100ms);
  transfer_breaks(kTransmission);
  EXPECT_TRUE(exchanges_.empty());
  wait(900ms);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
}

TEST_F(PairingTest, ATransferOfOneUnitDoesNotHoldAQuestionToAnother) {
  ask(0x7E0, "010C");
  ask(0x7E1, "22D105");
  transfer_starts(kTransmission);
  wait(2s);
  EXPECT_EQ(said(), Said{"7E0>7E8 silent"});
}

TEST_F(PairingTest, AFunctionalQuestionDoesNotWaitForATransferThatAnsweredAnother) {
  ask(0x7DF, "010C");
  ask(0x7E1, "22D105");
  transfer_starts(kTransmission);
  wait(500ms);
  answer(kTransmission, "62D10549");
  wait(10s);
  EXPECT_EQ(said(), (Said{"7E1>7E9 answered", "7DF>nobody silent"}));
}

TEST_F(PairingTest, ALongAnswerThatNobodyAskedForDoesNotHoldTheQuestionForEver) {
  ask(0x7E1, "22D105");
  transfer_starts(kTransmission);
  wait(2s);
  answer(kTransmission, "62D106 0102030405060708");
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
  EXPECT_EQ(exchanges_.front().ended_at, kStart + 2s);
  EXPECT_EQ(losses_.size(), 1U);
}

TEST_F(PairingTest, AFunctionalQuestionWaitsForEveryTransfer) {
  ask(0x7DF, "0902");
  transfer_starts(kEngine);
  transfer_starts(kTransmission);
  wait(1500ms);
  answer(kEngine, "490201 0102");
  wait(1500ms);
  answer(kTransmission, "490201 0304");
  wait(5s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>7E9 answered"}));
  EXPECT_TRUE(losses_.empty());
}

// --- errors ---

TEST_F(PairingTest, AnAnswerWithoutAnyRequestIsALoss) {
  answer(kTransmission, "62D10549");
  ASSERT_EQ(losses_.size(), 1U);
  EXPECT_EQ(losses_.front().from.id, kTransmission);
  EXPECT_EQ(losses_.front().at, kStart);
}

TEST_F(PairingTest, ANegativeResponseThatIsCutShortIsALoss) {
  ask(0x7E1, "22D105");
  for (const std::string_view hex : {"7F", "7F22"}) answer(kTransmission, hex);
  EXPECT_EQ(losses_.size(), 2U);
  EXPECT_TRUE(exchanges_.empty());
}

TEST_F(PairingTest, ANegativeResponseToAnotherServiceIsALoss) {
  ask(0x7E1, "22D105");
  answer(kTransmission, "7F2131");
  EXPECT_EQ(losses_.size(), 1U);
  wait(2s);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
}

TEST_F(PairingTest, WhatIsNotDiagnosticDoesNothing) {
  say(standard_id(0x123), "62D10549");
  say(kTransmission, "");
  EXPECT_TRUE(losses_.empty());
  EXPECT_TRUE(exchanges_.empty());
}

TEST_F(PairingTest, EveryAnswerIsEitherPairedOrLost) {
  const std::string_view kTexts[] = {"010C",   "0105",   "22D105", "410C0AF0", "41057B", "62D10549",
                                     "7F2231", "7F2278", "7F0131", "3E80",     "490201", "0902"};
  const std::uint32_t kIds[] = {0x7DF, 0x7E0, 0x7E1, 0x7E8, 0x7E9, 0x7EA};
  std::uint32_t state = 1;
  const auto random = [&](std::size_t n) {
    state = state * 1664525U + 1013904223U;
    return static_cast<std::size_t>(state >> 16) % n;
  };
  std::size_t requests = 0;
  std::size_t answers = 0;
  std::size_t pending = 0;
  for (int round = 0; round < 20000; ++round) {
    const std::uint32_t id = kIds[random(6)];
    const std::string_view text = kTexts[random(12)];
    const std::size_t before = losses_.size() + exchanges_.size();
    say(standard_id(id), text);
    if (id >= 0x7E8) {
      ++answers;
      // The answer itself: an exchange, a loss, or a 0x78 that is counted in a later exchange.
      if (losses_.size() + exchanges_.size() == before) ++pending;
    } else if (text != "3E80") {
      ++requests;
    }
    wait(std::chrono::milliseconds{random(400)});
  }
  wait(20s);
  EXPECT_FALSE(pairing_.deadline());
  std::size_t heard = losses_.size();
  std::size_t unanswered = 0;
  for (const Exchange& e : exchanges_) {
    heard += static_cast<std::size_t>(e.pending) + (e.result != ExchangeResult::silent ? 1 : 0);
    if (e.result == ExchangeResult::silent) ++unanswered;
  }
  EXPECT_EQ(heard, answers);
  EXPECT_GT(pending, 0U);
  EXPECT_LE(unanswered, requests);
  EXPECT_GE(exchanges_.size(), requests) << "every request ended in at least one exchange";
}

}  // namespace
}  // namespace sumplog
