#include <utility>

#include "core/asker/asker_fixture.h"

namespace sumplog::asker_test {
namespace {

// --- vehicle information ---

TEST_F(AskerTest, AsksForTheVinAgainAfterAFailureAndEverMoreSeldom) {
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.payload[0] == 0x09) return {};
    return well_behaved(request);
  };
  start(two_units());
  run_for(600s);
  const auto between = gaps(sent_like("7DF 0902"));
  ASSERT_GE(between.size(), 8U);
  EXPECT_LT(between.front(), 1s);
  for (std::size_t i = 1; i < between.size(); ++i) EXPECT_GE(between[i] + 100ms, between[i - 1]);
  EXPECT_GE(between.back(), 60s);
  EXPECT_LE(between.back(), 61s);
}

TEST_F(AskerTest, AsksForTheVinOnceWhenItIsAnswered) {
  start(two_units());
  run_for(300s);
  EXPECT_EQ(count("7DF 0902"), 1U);
  EXPECT_EQ(count("7DF 0100"), 1U);
}

TEST_F(AskerTest, AUnitWhoseFirstAnswerWasLostIsAskedForItsParametersAgainWhenItAnswersSomethingElse) {
  bool lost = true;
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x01, 0x00} && std::exchange(lost, false))
      return {{kGearboxVoice, support_answer(0, {0x01})}};  // the engine's is lost
    return well_behaved(request);
  };
  start(two_units());
  run_for(10s);
  EXPECT_EQ(count("7DF 0100"), 2U);
  EXPECT_FALSE(sent_to(kEngine).empty());
}

TEST_F(AskerTest, AUnitThatNeverTellsItsParametersIsAskedForThemThreeTimesMore) {
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x01, 0x00}) return {{kEngineVoice, support_answer(0, {0x0C})}};
    return well_behaved(request);  // the gearbox answers all the time
  };
  start(two_units());
  run_for(60s);
  EXPECT_EQ(count("7DF 0100"), 4U);
}

TEST_F(AskerTest, AUnitThatOnlyRefusesIsNotAskedForItsParametersAgain) {
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.to == kAll && request.payload[0] == 0x09) return {{kEngineVoice, {0x7F, 0x09, 0x11}}};
    if (request.payload == Bytes{0x01, 0x00}) return {{kGearboxVoice, support_answer(0, {0x01})}};
    return request.to == kGearbox ? well_behaved(request) : std::vector<Answer>{};
  };
  start(two_units());
  run_for(10s);
  EXPECT_EQ(count("7DF 0100"), 1U);
}

TEST_F(AskerTest, TriesTwentyNineBitsWhenNobodyAnswersEleven) {
  // ISO 15765-4: functional request 18DB33F1, response 18DAF1xx.
  const Endpoint engine = at(extended_id(0x18DAF110));
  answers_ = [&](const Request& request) -> std::vector<Answer> {
    if (request.to == at(extended_id(0x18DB33F1)) && request.payload[1] == 0x00)
      return {{engine, support_answer(0, {0x0C})}};
    if (request.to == at(extended_id(0x18DA10F1))) return {{engine, {0x41, 0x0C, 0x10, 0x00}}};
    return {};
  };
  start(two_units());
  run_for(10s);
  EXPECT_EQ(count("7DF 0100"), 1U);
  EXPECT_EQ(count("18DB33F1 0100"), 1U);
  EXPECT_GE(count("18DA10F1 010C"), 15U);
  EXPECT_EQ(count("7DF 0902"), 0U);
  EXPECT_GE(count("18DB33F1 0902"), 1U);
}

TEST_F(AskerTest, TriesBothKindsOfIdentifierAgainAndAgainOnASilentBus) {
  answers_ = [](const Request&) { return std::vector<Answer>{}; };
  start(two_units());
  run_for(60s);
  EXPECT_GE(count("7DF 0100"), 5U);
  EXPECT_GE(count("18DB33F1 0100"), 5U);
  EXPECT_LE(sent_.size(), 60U) << "a silent bus is left alone";
}

// --- the bus ---

TEST_F(AskerTest, CountsARequestWithoutEchoAsNotSentAndTriesEverMoreSeldom) {
  echo_ = false;
  start(two_units());
  run_for(60s);
  EXPECT_GE(sent_.size(), 10U);
  EXPECT_LE(sent_.size(), 20U);
  echo_ = true;
  run_for(6s);
  sent_.clear();
  run_for(10s);
  EXPECT_GE(count("7E1 221A05"), 19U);
}

class AskerLink : public AskerTest, public ::testing::WithParamInterface<LinkState> {};

TEST_P(AskerLink, AsksNothingUntilTheLinkIsUp) {
  start(two_units());
  run_for(5s);
  asker_->on_link(GetParam(), now_);
  sent_.clear();
  EXPECT_FALSE(asker_->deadline());
  run_for(60s);
  EXPECT_TRUE(sent_.empty());
  asker_->on_link(LinkState::up, now_);
  run_for(1s);
  EXPECT_GE(count("7E1 221A05"), 2U);
}
INSTANTIATE_TEST_SUITE_P(States, AskerLink,
                         ::testing::Values(LinkState::down, LinkState::gone, LinkState::bus_off));

TEST_F(AskerTest, ForgetsWhatWasOutstandingWhenTheLinkWentDown) {
  // A unit that says "pending" may take five seconds; after the link was down nobody will answer any more.
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.to == kGearbox && now_ < at_micros(1'700'000'001'000'000))
      return {{kGearboxVoice, {0x7F, request.payload[0], 0x78}}};
    return well_behaved(request);
  };
  start(two_units());
  run_for(1s);
  sent_.clear();
  asker_->on_link(LinkState::down, now_);
  asker_->on_link(LinkState::up, now_);
  run_for(1s);
  EXPECT_GE(count("7E1 221A05"), 2U);
}

TEST_F(AskerTest, GoesOnWhileTheLinkIsErrorPassive) {
  start(two_units());
  run_for(5s);
  asker_->on_link(LinkState::error_passive, now_);
  sent_.clear();
  run_for(5s);
  EXPECT_GE(count("7E1 221A05"), 9U);
}

TEST_F(AskerTest, AsksNothingWhileAnotherTesterIsActive) {
  start(two_units());
  run_for(5s);
  for (int i = 0; i < 20; ++i) {
    asker_->on_other_tester(now_);
    if (i == 0) sent_.clear();
    run_for(2s);
  }
  EXPECT_TRUE(sent_.empty());
  run_for(2900ms);
  EXPECT_TRUE(sent_.empty());
  run_for(1s);
  EXPECT_FALSE(sent_.empty());
}

TEST_F(AskerTest, ListensBeforeItUsesAnIdentifierThatOnlyADecoderNames) {
  auto decoders = two_units();
  decoders[0].units[0] = unit_at("gearbox", 0x702, 0x70A);
  start(decoders);
  const TimePoint begin = now_;
  run_for(5s);
  const auto list = sent_to(at(standard_id(0x702)));
  ASSERT_FALSE(list.empty());
  EXPECT_GE(list.front().at - begin, 2s);
}

TEST_F(AskerTest, UsesTheAddressByteOfAUnitWithExtendedAddressing) {
  auto decoders = two_units();
  decoders[0].units[0].address = {standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18,
                                  0xF1};
  start(decoders);
  run_for(5s);
  EXPECT_GE(count("6F1/18 221A05"), 1U);
}

TEST_F(AskerTest, NeverHasMoreParametersInARequestThanTheFrameHoldsBesideAnAddressByte) {
  // ISO 15765-2: a single frame has seven bytes, six beside an address byte; the service takes one.
  auto decoders = two_units();
  decoders[0].units[0].address = {standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18,
                                  0xF1};
  decoders[0].signals.clear();
  for (const int pid : {0x04, 0x05, 0x0B, 0x0C, 0x0D, 0x0F, 0x11}) {
    decoders[0].signals.push_back(pid_signal("s", static_cast<std::uint8_t>(pid), 1s));
    decoders[0].signals.back().unit_id = "gearbox";
  }
  answers_ = [](const Request& request) -> std::vector<Answer> {
    const Endpoint voice = at(standard_id(0x618), 0xF1);
    if (request.payload == Bytes{0x01, 0x00})
      return {{voice, support_answer(0, {0x04, 0x05, 0x0B, 0x0C, 0x0D, 0x0F, 0x11})}};
    if (request.to.id != standard_id(0x6F1)) return {};
    Bytes answer{0x41};
    for (std::size_t i = 1; i < request.payload.size(); ++i) {
      answer.push_back(request.payload[i]);
      answer.insert(answer.end(), request.payload[i] == 0x0C ? 2 : 1, 0x40);
    }
    return {{voice, answer}};
  };
  start(decoders);
  run_for(10s);
  std::size_t longest = 0;
  for (const Sent& one : sent_to(at(standard_id(0x6F1), 0x18)))
    longest = std::max(longest, one.request.payload.size());
  EXPECT_EQ(longest, 6U);
}

// --- other testers ---

TEST_F(AskerTest, ARequestOfAnotherTesterOnTheSameIdentifierIsNotTakenForOurs) {
  answers_ = [this](const Request& request) {
    auto answers = well_behaved(request);
    if (request.to == kGearbox) answers.push_back({kGearbox, {0x22, 0x1A, 0x99}, -500us});
    return answers;
  };
  start(two_units(), {kBus, 5, kMostShare});
  run_for(10s);
  EXPECT_GE(count("7E1 221A05"), 45U) << "each is answered, none is silent";
}

TEST_F(AskerTest, AnotherTestersQuestionOfTheSameMomentIsNotOurs) {
  answers_ = [](const Request& request) -> std::vector<Answer> {
    if (request.payload != Bytes{0x01, 0x00}) return {};
    return {{kAll, {0x01, 0x20}, 0ms}, {kEngineVoice, support_answer(0x20, {0x40})}};
  };
  start(two_units());
  run_for(10s);
  EXPECT_GE(count("7DF 0100") + count("18DB33F1 0100"), 3U) << "nobody has answered that yet";
}

TEST_F(AskerTest, TheVinThatAnotherTesterGotOfAllUnitsIsNotAskedAgain) {
  const auto asked_after = [this](const Endpoint& to, const Bytes& response) {
    sent_.clear();
    start(two_units());
    Exchange theirs;
    theirs.asked_at = theirs.ended_at = now_;
    theirs.request = to;
    theirs.unit = kEngineVoice;
    theirs.asked = {0x09, 0x02};
    theirs.response = response;
    theirs.result = ExchangeResult::answered;
    asker_->on_exchange(theirs);
    run_for(10s);
    return count("7DF 0902");
  };
  Bytes vin{0x49, 0x02, 0x01};
  EXPECT_EQ(asked_after(kAll, vin), 1U) << "an answer without a VIN";
  vin.resize(20, '0');
  EXPECT_EQ(asked_after(kEngine, vin), 1U) << "other units may have another one";
  EXPECT_EQ(asked_after(kAll, vin), 0U);
}

TEST_F(AskerTest, NothingIsReadOnRequestWhileAnotherTesterIsActive) {
  answers_ = [](const Request&) { return std::vector<Answer>{}; };
  start(two_units());
  run_for(200s);
  while (asker_->deadline() && *asker_->deadline() < now_ + 8s) run_for(1s);
  sent_.clear();
  asker_->on_other_tester(now_);
  asker_->on_read_once(now_);
  run_for(7s);
  EXPECT_TRUE(sent_.empty()) << "nor later, when the ignition is off";
  asker_->on_read_once(now_);
  run_for(100ms);
  EXPECT_EQ(count("7E1 221A05"), 1U);
}

TEST_F(AskerTest, ARateThatAPersonAsksForMayTakeMoreOfTheBus) {
  const auto read_with = [this](const AskerSettings& settings) {
    sent_.clear();
    start(two_units(), settings);
    run_for(20s);
    return count("7E1 221A05");
  };
  // At 250 kbit/s a request and its answer take about 1 ms: 2 % of the bus are less than twenty a second.
  EXPECT_LT(read_with({kBus, 100}), 400U);
  EXPECT_GT(read_with(at_rate(kBus, 100)), 600U);
}

// --- on request, and after a pause ---

TEST_F(AskerTest, WhatTheUnitDeniesIsNotAskedOnRequestEither) {
  answers_ = [this](const Request& request) -> std::vector<Answer> {
    if (request.payload == Bytes{0x22, 0x1A, 0x05}) return {{kGearboxVoice, {0x7F, 0x22, 0x31}}};
    return well_behaved(request);
  };
  start(two_units());
  run_for(30s);
  ASSERT_EQ(why_not("22 1A05 of 7E1"), "the unit does not know this");
  sent_.clear();
  asker_->on_read_once(now_);
  run_for(300ms);
  EXPECT_EQ(count("7E1 221A05"), 0U);
  EXPECT_EQ(count("7DF 0100"), 1U) << "at least who is there";
}

TEST_F(AskerTest, WhereNothingIsKnownToReadTheRequestAsksWhoIsThere) {
  answers_ = [](const Request&) { return std::vector<Answer>{}; };
  auto decoders = two_units();
  decoders[0].signals = {pid_signal("engine_speed", 0x0C, 500ms)};
  start(decoders);
  run_for(200s);
  while (asker_->deadline() && *asker_->deadline() < now_ + 1s) run_for(1s);
  sent_.clear();
  run_for(100ms);
  ASSERT_TRUE(sent_.empty()) << "the ignition counts as off";
  asker_->on_read_once(now_);
  run_for(100ms);
  EXPECT_EQ(count("7DF 0100") + count("18DB33F1 0100"), 1U);
}

TEST_F(AskerTest, ALinkThatComesUpAgainEndsAllWaitingForSilentUnits) {
  start(two_units());
  run_for(5s);
  answers_ = [](const Request&) { return std::vector<Answer>{}; };
  run_for(30s);
  asker_->on_link(LinkState::down, now_);
  asker_->on_link(LinkState::up, now_);
  sent_.clear();
  run_for(4s);
  EXPECT_GE(sent_to(kGearbox).size(), 3U) << "after half a second, one, two";
}

TEST_F(AskerTest, WhatTheGuardRefusesStaysSoWhenAnotherTesterAsksIt) {
  start(two_units());
  ASSERT_TRUE(asker_->next(now_));
  asker_->on_refused(GuardRefusal::service_not_listed);
  Exchange theirs;
  theirs.asked_at = theirs.ended_at = now_;
  theirs.request = kAll;
  theirs.unit = kEngineVoice;
  theirs.asked = {0x01, 0x00};
  theirs.response = support_answer(0, {0x0C});
  theirs.result = ExchangeResult::answered;
  asker_->on_exchange(theirs);
  EXPECT_EQ(why_not("01 00"), text_of(GuardRefusal::service_not_listed));
}

}  // namespace
}  // namespace sumplog::asker_test
