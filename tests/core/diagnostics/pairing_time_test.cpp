#include "core/diagnostics/pairing_fixture.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;
using isotp_words::kStart;
using testing::PairingTest;
using testing::Said;

const CanId kEngine = standard_id(0x7E8);
const CanId kTransmission = standard_id(0x7E9);

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

TEST_F(PairingTest, AServiceThatOnlyARequestHasIsNoAnswer) {
  ask(0x7E0, "C5");
  answer(kEngine, "05");  // C5 + 40, but for what does not fit into a byte
  ask(0x7E1, "45");
  answer(kTransmission, "85");
  EXPECT_EQ(losses_.size(), 2U);
  EXPECT_TRUE(exchanges_.empty());
  answer(kEngine, "7FC511");  // ISO 14229-1: serviceNotSupported
  EXPECT_EQ(said(), Said{"7E0>7E8 refused 17"});
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
