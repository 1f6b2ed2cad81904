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

TEST_F(AskerTest, TriesAgainWhatTheSocketDidNotTake) {
  start(two_units());
  const auto request = asker_->next(now_);
  ASSERT_TRUE(request);
  asker_->on_not_sent(*request, now_);
  EXPECT_FALSE(asker_->next(now_));
  ASSERT_TRUE(asker_->deadline());
  EXPECT_LE(*asker_->deadline() - now_, 1s);
  const auto again = asker_->next(*asker_->deadline());
  ASSERT_TRUE(again);
  EXPECT_EQ(again->payload, request->payload);
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

}  // namespace
}  // namespace sumplog::asker_test
