#include "core/asker/asker_fixture.h"

namespace sumplog::asker_test {
namespace {

class AskerOfGroups : public AskerTest {
 protected:
  /// The fluid temperature in a group of unit 3, and the same group of unit 4.
  void start_groups(PlanPurpose purpose = PlanPurpose::job, bool of_another_too = false) {
    Decoder decoder;
    Signal fluid;
    fluid.name = "fluid_temperature";
    fluid.source = SpnSource{0xFEF8, 177, 3};
    fluid.poll_period = 1s;
    decoder.signals = {fluid};
    fluid.source = SpnSource{0xFEF8, 177, 4};
    if (of_another_too) decoder.signals.push_back(fluid);
    answers_ = [](const Request&) { return std::vector<Answer>{}; };
    AskerSettings settings{kBus};
    settings.purpose = purpose;
    start({decoder}, settings);
  }
  void acknowledgement(std::uint32_t id, const Bytes& bytes) {
    asker_->on_frame(data_frame(now_, kBus, extended_id(id), bytes), false);
  }
  /// Until groups were sent, whose echoes are to come by hand.
  void send_groups_without_echo() {
    run_for(2s);
    asker_->on_address_claimed(now_);
    echo_ = false;
    sent_.clear();
    while (count("18EA03F9 F8FE00") == 0 && !HasFatalFailure()) run_for(10ms);
  }
  void echo(std::uint32_t id, const Bytes& bytes) {
    asker_->on_frame(data_frame(now_, kBus, extended_id(id), bytes), true);
  }
  void group_of_unit_3() {
    asker_->on_message({now_, now_, at(extended_id(0x18FEF803)), 0xFEF8, Bytes(8, 0xFF)});
  }
  std::string why() const { return why_not("F8 FE00 of 18EA03F9"); }
};

TEST_F(AskerOfGroups, NothingIsAskedBeforeOurAddressWasClaimedForAQuarterOfASecond) {
  // SAE J1939-81: so long somebody may object.
  start_groups();
  run_for(2s);
  asker_->on_read_once(now_);
  run_for(1s);
  EXPECT_EQ(count("18EA03F9 F8FE00"), 0U);
  asker_->on_address_claimed(now_);
  const TimePoint claimed = now_;
  asker_->on_read_once(now_);  // a person's wish is no reason
  run_for(1s);
  ASSERT_GE(count("18EA03F9 F8FE00"), 1U);
  EXPECT_GE(sent_like("18EA03F9 F8FE00").front().at - claimed, 250ms);
}

TEST_F(AskerOfGroups, WhoIsThereIsAskedTwiceWhereNobodyTells) {
  // SAE J1939-81: request for address claimed, group 60928 (EE00), to all.
  start_groups(PlanPurpose::who);
  answers_ = [this](const Request& request) { return well_behaved(request); };
  asker_->on_address_claimed(now_);
  run_for(300s);
  EXPECT_EQ(count("18EAFFF9 00EE00"), 2U) << "lost once may be chance";
}

TEST_F(AskerOfGroups, WhereSomebodyElseHasOurAddressNoneIsAskedForAndThatIsSaid) {
  start_groups();
  run_for(1s);
  ASSERT_TRUE(asker_->wants_address());
  asker_->on_address_refused(GuardRefusal::identifier_in_use);
  EXPECT_FALSE(asker_->wants_address()) << "it is not claimed again and again";
  EXPECT_EQ(why(), text_of(GuardRefusal::identifier_in_use));
  run_for(10s);
  EXPECT_GE(count("7DF 0100") + count("18DB33F1 0100"), 2U) << "what needs no address is asked for as ever";
}

TEST_F(AskerOfGroups, OnlyANegativeAcknowledgementOfThatUnitForThatGroupEndsIt) {
  // SAE J1939-21: control byte (0 positive, 1 negative, 2 access denied, 3 cannot respond), three bytes, who asked, PGN.
  const auto after = [this](std::uint32_t id, const Bytes& bytes) {
    start_groups();
    asker_->on_address_claimed(now_);
    sent_.clear();
    while (count("18EA03F9 F8FE00") == 0 && !HasFatalFailure()) run_for(10ms);
    acknowledgement(id, bytes);
    return why();
  };
  EXPECT_EQ(after(0x18E8FF03, {1, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE, 0}),
            "the unit does not have this group");
  EXPECT_EQ(after(0x18E8FF03, {2, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE, 0}), "the unit denies access to it");
  EXPECT_EQ(after(0x18E8FF03, {0, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE, 0}), "");
  EXPECT_EQ(after(0x18E8FF03, {3, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE, 0}), "");
  EXPECT_EQ(after(0x18E8FF03, {1, 0xFF, 0xFF, 0xFF, 0xF9, 0xCA, 0xFE, 0}), "") << "another group";
  EXPECT_EQ(after(0x18E8FF04, {1, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE, 0}), "") << "another unit";
  EXPECT_EQ(after(0x18E8FF03, {1, 0xFF, 0xFF, 0xFF, 0xF9, 0xF8, 0xFE}), "") << "cut short";
}

TEST_F(AskerOfGroups, AnAnswerOfAnotherKindDoesNotKeepAGroupWaiting) {
  start_groups();
  asker_->on_address_claimed(now_);
  while (count("18EA03F9 F8FE00") == 0 && !HasFatalFailure()) run_for(10ms);
  for (int i = 0; i < 11; ++i) {
    receive_from(kEngineVoice);  // frames of ISO 15765
    run_for(100ms);
  }
  run_for(1s);
  EXPECT_GE(count("18EA03F9 F8FE00"), 2U);
}

TEST_F(AskerOfGroups, AVehicleThatSpeaksOnWithoutAnsweringIsLookedAtNowAndThen) {
  start_groups();
  for (int i = 0; i < 800; ++i) {
    acknowledgement(0x18FECA03, {0, 0, 0, 0, 0, 0, 0, 0});
    run_for(500ms);
    if (i == 500) sent_.clear();
  }
  EXPECT_GE(sent_.size(), 1U);
  EXPECT_LE(sent_.size(), 6U) << "in two and a half minutes";
}

TEST_F(AskerOfGroups, TheFramesOfAnotherServiceToolAreNoSignThatTheVehicleIsAwake) {
  start_groups();
  run_for(200s);
  while (asker_->deadline() && *asker_->deadline() < now_ + 1s) run_for(1s);
  sent_.clear();
  acknowledgement(0x18FECAFA,
                  {0, 0, 0, 0, 0, 0, 0, 0});  // FA: the second address of service tools (SAE J1939)
  acknowledgement(0x18FECAF9, {0, 0, 0, 0, 0, 0, 0, 0});
  run_for(900ms);
  EXPECT_TRUE(sent_.empty());
  acknowledgement(0x18FECA03, {0, 0, 0, 0, 0, 0, 0, 0});
  run_for(900ms);
  EXPECT_FALSE(sent_.empty());
}

TEST_F(AskerOfGroups, TheEchoOfARequestIsTheOneToThatUnit) {
  start_groups(PlanPurpose::job, true);
  send_groups_without_echo();
  run_for(80ms);
  ASSERT_EQ(count("18EA03F9 F8FE00"), 1U);
  ASSERT_EQ(count("18EA04F9 F8FE00"), 1U);
  echo(0x18EA04F9, {0xF8, 0xFE, 0x00});
  run_for(900ms);
  EXPECT_EQ(count("18EA04F9 F8FE00"), 1U) << "it waits for an answer";
  EXPECT_GE(count("18EA03F9 F8FE00"), 2U) << "it was not sent";
}

TEST_F(AskerOfGroups, AnEarlierRequestToThatUnitThatComesBackLateIsNoEcho) {
  start_groups();
  send_groups_without_echo();
  echo(0x18EA03F9, {0xCA, 0xFE, 0x00});
  run_for(900ms);
  EXPECT_GE(count("18EA03F9 F8FE00"), 2U);
}

TEST_F(AskerOfGroups, AGroupThatIsToldBeforeOurRequestWasOnTheBusIsNoAnswerToIt) {
  start_groups();
  send_groups_without_echo();
  group_of_unit_3();
  run_for(900ms);
  EXPECT_GE(count("18EA03F9 F8FE00"), 2U);
}

TEST_F(AskerOfGroups, WhatIsAskedOnceAndAnsweredIsNotAskedAgain) {
  start_groups(PlanPurpose::who);
  asker_->on_address_claimed(now_);
  while (count("18EA03F9 F8FE00") == 0 && !HasFatalFailure()) run_for(10ms);
  run_for(10ms);
  group_of_unit_3();
  run_for(60s);
  EXPECT_EQ(count("18EA03F9 F8FE00"), 1U);
  EXPECT_EQ(count("18EAFFF9 00EE00"), 2U) << "what was not answered";
}

TEST_F(AskerOfGroups, AnAcknowledgementSaysNothingOfAQuestionThatIsNoGroup) {
  // The identifier 7DF has 07 where a request for a group has its unit, and 01 00 is asked with it.
  start_groups();
  while (count("7DF 0100") == 0 && !HasFatalFailure()) run_for(1ms);
  run_for(10ms);
  acknowledgement(0x18E8FF07, {1, 0xFF, 0xFF, 0xFF, 0xF9, 0, 0, 0});
  EXPECT_EQ(why_not("01 00"), "");
}

}  // namespace
}  // namespace sumplog::asker_test
