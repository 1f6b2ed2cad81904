#include "core/diagnostics/pairing_fixture.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using isotp_words::bytes;
using isotp_words::kStart;
using testing::PairingTest;
using testing::Said;

const CanId kFunctional = standard_id(0x7DF);
const CanId kEngine = standard_id(0x7E8);
const CanId kTransmission = standard_id(0x7E9);

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

// --- a unit that answered a question to all units before ---

TEST_F(PairingTest, AUnitThatAnsweredTheSameQuestionBeforeIsMissed) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  answer(kTransmission, "410C0AF0");
  wait(2s);
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  wait(2s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>7E9 answered", "7DF>7E8 answered", "7DF>7E9 silent"}));
}

TEST_F(PairingTest, AUnitThatIsMissedOnceIsNotMissedAgain) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  answer(kTransmission, "410C0AF0");
  for (int i = 0; i < 2; ++i) {
    wait(2s);
    ask(0x7DF, "010C");
    answer(kEngine, "410C0AF0");
  }
  wait(2s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>7E9 answered", "7DF>7E8 answered", "7DF>7E9 silent",
                          "7DF>7E8 answered"}));
}

TEST_F(PairingTest, WhenAllThatAnsweredBeforeAreSilentEachIsNamed) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  answer(kTransmission, "410C0AF0");
  wait(2s);
  ask(0x7DF, "010C");
  wait(2s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>7E9 answered", "7DF>7E8 silent", "7DF>7E9 silent"}));
}

TEST_F(PairingTest, AnotherQuestionOrAnotherBusMissesNobody) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  wait(2s);
  ask(0x7DF, "010D");
  wait(2s);
  say(kFunctional, "010C", BusName("can1"));
  wait(2s);
  EXPECT_EQ(said(), (Said{"7DF>7E8 answered", "7DF>nobody silent", "7DF>nobody silent"}));
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
      {"22D105", "62D10649"}, {"22D105", "6201D105"}, {"22D105", "62D1"},     {"010C", "410D32"},
      {"010C", "41"},         {"0902", "490401"},     {"2101", "610249"},     {"1902FF", "590100"},
      {"010C", "62D10549"},   {"22D105", "410C0AF0"}, {"020C00", "420D0032"}, {"0902", "49"},
      {"09", "4902"},         {"22D1", "62D105"},     {"22D105", "62"}};
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

TEST_F(PairingTest, TheOrderOfTheIdentifiersDoesNotMatterForThat) {
  say(extended_id(0x18DA18F1), "22F190");  // before 18DB33F1, as 7E0 is behind 7DF
  say(extended_id(0x18DB33F1), "22F190");
  answer(extended_id(0x18DAF118), "62F19031");
  answer(extended_id(0x18DAF118), "62F19032");
  EXPECT_EQ(said(), (Said{"18DA18F1>18DAF118 answered", "18DB33F1>18DAF118 answered"}));
}

TEST_F(PairingTest, OfTwoEqualQuestionsToAllTheLowerIdentifierIsAnsweredFirst) {
  say(extended_id(0x18DB33F1), "22F190");
  say(extended_id(0x18DB10F1), "22F190");
  answer(extended_id(0x18DAF118), "62F19031");
  EXPECT_EQ(said(), Said{"18DB10F1>18DAF118 answered"});
}

TEST_F(PairingTest, ASignOfLifeThatWantsAnAnswerIsAQuestionLikeAnyOther) {
  ask(0x7E1, "22D105");
  wait(10ms);
  ask(0x7E1, "3E80");  // ISO 14229-1, TesterPresent: no answer wanted
  EXPECT_TRUE(exchanges_.empty());
  ask(0x7E1, "3E00");
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
}

TEST_F(PairingTest, OfSeveralOpenQuestionsTheOneThatIsDueEnds) {
  ask(0x7E1, "22D105");
  wait(10ms);
  ask(0x7E0, "22D105");
  take(pairing_.on_deadline(now_));
  EXPECT_TRUE(exchanges_.empty());
  wait(990ms);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
  wait(10ms);
  EXPECT_EQ(said(), (Said{"7E1>7E9 silent", "7E0>7E8 silent"}));
  take(pairing_.on_deadline(now_ + 1h));
  EXPECT_EQ(exchanges_.size(), 2U);
}

TEST_F(PairingTest, AQuestionIsNotEndedWhileItsAnswerIsComing) {
  ask(0x7E0, "22D105");
  ask(0x7E1, "22D105");
  transfer_starts(kEngine);
  wait(2s);
  EXPECT_EQ(said(), Said{"7E1>7E9 silent"});
}

TEST_F(PairingTest, OfTooManyDifferentQuestionsNobodyIsExpectedAnyMore) {
  ask(0x7DF, "010C");
  answer(kEngine, "410C0AF0");
  for (int i = 0; i < 256; ++i) {
    wait(2s);
    Message question;
    question.at = now_;
    question.from = {BusName("can0"), kFunctional, std::nullopt};
    question.payload = {0x22, 0x10, static_cast<std::uint8_t>(i)};
    take(pairing_.on_message(question));
  }
  wait(2s);
  exchanges_.clear();
  ask(0x7DF, "010C");
  wait(2s);
  EXPECT_EQ(said(), Said{"7DF>nobody silent"});
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

}  // namespace
}  // namespace sumplog
