#include "core/asker/sweep_conditions.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/diagnostics/service.h"
#include "core/item/entry_names.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using Bytes = std::vector<std::uint8_t>;

const BusName kBus("can0");
const Endpoint kAll{kBus, standard_id(0x7DF), std::nullopt};
const Endpoint kGearbox{kBus, standard_id(0x7E1), std::nullopt};

/// What units and people say, one after the other.
class SweepConditionsTest : public ::testing::Test {
 protected:
  void told(const Endpoint& to, std::uint32_t unit, Bytes asked, Bytes response) {
    exchange(to, unit, std::move(asked), std::move(response), ExchangeResult::answered);
  }
  void exchange(const Endpoint& to, std::uint32_t unit, Bytes asked, Bytes response, ExchangeResult result) {
    Exchange one;
    one.asked_at = now_;
    one.ended_at = now_ += 10ms;
    one.request = to;
    one.unit = Endpoint{kBus, standard_id(unit), std::nullopt};
    one.asked = std::move(asked);
    one.response = std::move(response);
    one.result = result;
    conditions_.on_exchange(one);
  }
  void speed(std::uint8_t km_h) { told(kAll, 0x7E8, {0x01, 0x0D}, {0x41, 0x0D, km_h}); }
  void speed_of_a_decoder(double km_h) {
    ReadingEvent event;
    event.signal = "vehicle_speed";
    event.value = km_h;
    conditions_.on_event(event);
  }
  void agree() {
    conditions_.on_entry(Entry{now_, "1", std::string(kConfirmed),
                               R"({"what":"sweep","origin":"7E1:1A00-1AFF","by":"K. Example"})"});
  }
  void no_codes() {
    told(kAll, 0x7E8, {0x03}, {0x43, 0x00});
    told(kAll, 0x7E8, {0x07}, {0x47, 0x00});
    told(kGearbox, 0x7E9, {0x19, 0x02, 0xAF}, {0x59, 0x02, 0xFF});
  }
  void begin() {
    agree();
    no_codes();
    now_ += 2s;
    speed(0);
    ASSERT_FALSE(conditions_.hindrance(now_)) << *conditions_.hindrance(now_);
    conditions_.begin(now_);
  }

  TimePoint now_ = at_micros(1'700'000'000'000'000);
  SweepConditions conditions_{kBus, {kGearbox}, "7E1:1A00-1AFF"};
};

TEST_F(SweepConditionsTest, TheFirstThingToMendIsTold) {
  EXPECT_EQ(conditions_.hindrance(now_), "nobody has agreed to it");
  agree();
  conditions_.set_plug_out(true);
  EXPECT_EQ(conditions_.hindrance(now_), "the plug is out: put it in first");
  conditions_.set_plug_out(false);
  EXPECT_EQ(conditions_.hindrance(now_), "no unit tells the vehicle's speed (parameter 0D)");
  speed(5);
  EXPECT_EQ(conditions_.hindrance(now_), "the vehicle moves");
  speed(0);
  EXPECT_EQ(conditions_.hindrance(now_), "the fault codes have not been read yet");
  no_codes();
  EXPECT_EQ(conditions_.hindrance(now_), "the fault codes have not been read yet")
      << "others may still answer";
  now_ += 2s;
  speed(0);
  EXPECT_FALSE(conditions_.hindrance(now_));
}

TEST_F(SweepConditionsTest, TheSpeedIsFoundAmongSeveralParameters) {
  begin();
  told(kAll, 0x7E8, {0x01, 0x0C, 0x0D, 0x05}, {0x41, 0x0C, 0x0A, 0xF0, 0x0D, 0x07, 0x05, 0x50});
  EXPECT_EQ(conditions_.breach(now_), "the vehicle moves");
}

TEST_F(SweepConditionsTest, ASpeedAboveZeroFromAnySourceIsNotForgotten) {
  begin();
  speed_of_a_decoder(5);
  speed_of_a_decoder(0);
  speed(0);
  EXPECT_EQ(conditions_.breach(now_), "the vehicle moves");
}

TEST_F(SweepConditionsTest, ASpeedOfADecoderAloneDoesNotProveThatItStands) {
  agree();
  no_codes();
  now_ += 2s;
  speed_of_a_decoder(0);
  EXPECT_EQ(conditions_.hindrance(now_), "no unit tells the vehicle's speed (parameter 0D)");
}

TEST_F(SweepConditionsTest, ASpeedIsKnownForThreeSeconds) {
  begin();
  EXPECT_FALSE(conditions_.pause(now_ + 3s));
  EXPECT_EQ(conditions_.pause(now_ + 3001ms), "the vehicle's speed is not known");
}

TEST_F(SweepConditionsTest, ACodeThatFailsAgainAppearsAndOneThatStopsFailingDoesNot) {
  agree();
  told(kAll, 0x7E8, {0x03}, {0x43, 0x01, 0x01, 0x28});
  told(kAll, 0x7E8, {0x07}, {0x47, 0x00});
  // P0711-1F is confirmed, P0741-00 is confirmed and fails now.
  told(kGearbox, 0x7E9, {0x19, 0x02, 0xAF},
       {0x59, 0x02, 0xFF, 0x07, 0x11, 0x1F, 0x08, 0x07, 0x41, 0x00, 0x09});
  now_ += 2s;
  speed(0);
  ASSERT_FALSE(conditions_.hindrance(now_));
  conditions_.begin(now_);
  EXPECT_EQ(conditions_.codes_before(), "P0128 of 7E8, P0711-1F of 7E9, P0741-00 of 7E9");
  told(kGearbox, 0x7E9, {0x19, 0x02, 0xAF},
       {0x59, 0x02, 0xFF, 0x07, 0x11, 0x1F, 0x08, 0x07, 0x41, 0x00, 0x08});
  EXPECT_FALSE(conditions_.breach(now_));
  told(kGearbox, 0x7E9, {0x19, 0x02, 0xAF},
       {0x59, 0x02, 0xFF, 0x07, 0x11, 0x1F, 0x09, 0x07, 0x41, 0x00, 0x08});
  EXPECT_EQ(conditions_.breach(now_), "fault code P0711-1F of 7E9 appeared");
}

TEST_F(SweepConditionsTest, AHistoryThatIsOnlyKeptIsNoCode) {
  begin();
  // Failed since codes were cleared, and not completed: nothing that is there.
  told(kGearbox, 0x7E9, {0x19, 0x02, 0xAF}, {0x59, 0x02, 0xFF, 0x07, 0x11, 0x1F, 0x70});
  EXPECT_FALSE(conditions_.breach(now_));
}

TEST_F(SweepConditionsTest, APendingCodeThatAppearsCounts) {
  begin();
  told(kAll, 0x7E8, {0x07}, {0x47, 0x01, 0x03, 0x01});
  EXPECT_EQ(conditions_.breach(now_), "fault code P0301 of 7E8 appeared");
}

TEST_F(SweepConditionsTest, AUnitThatWasNotHeardBeforeBringsANewCodeToo) {
  begin();
  told(kAll, 0x7EA, {0x03}, {0x43, 0x01, 0x40, 0x35});
  EXPECT_EQ(conditions_.breach(now_), "fault code C0035 of 7EA appeared");
}

TEST_F(SweepConditionsTest, WhoDoesNotTellItsCodesAnyMoreEndsItAfterThreeRounds) {
  begin();
  EXPECT_FALSE(conditions_.breach(now_ + 100s));
  ASSERT_TRUE(conditions_.breach(now_ + 101s));
  now_ += 60s;
  told(kAll, 0x7E8, {0x03}, {0x43, 0x00});
  told(kAll, 0x7E8, {0x07}, {0x47, 0x00});
  EXPECT_EQ(conditions_.breach(now_ + 60s), "7E9 does not tell its fault codes any more");
  conditions_.leave(kGearbox);
  EXPECT_FALSE(conditions_.breach(now_ + 60s));
}

TEST_F(SweepConditionsTest, AUnitWithoutThatServiceHoldsNothingUp) {
  agree();
  told(kAll, 0x7E8, {0x03}, {0x43, 0x00});
  told(kAll, 0x7E8, {0x07}, {0x47, 0x00});
  exchange(kGearbox, 0x7E9, {0x19, 0x02, 0xAF}, {}, ExchangeResult::silent);
  now_ += 3s;
  speed(0);
  EXPECT_EQ(conditions_.hindrance(now_), "the fault codes have not been read yet") << "once may be chance";
  exchange(kGearbox, 0x7E9, {0x19, 0x02, 0xAF}, {}, ExchangeResult::silent);
  now_ += 2s;
  speed(0);
  EXPECT_FALSE(conditions_.hindrance(now_));
}

TEST_F(SweepConditionsTest, ASpeedBehindAParameterOfUnknownLengthIsNotGuessed) {
  begin();
  told(kAll, 0x7E8, {0x01, 0x7C, 0x0D}, {0x41, 0x7C, 0x01, 0x0D, 0x30, 0x02});
  EXPECT_FALSE(conditions_.breach(now_)) << "48 km/h may be the other one's bytes";
}

TEST_F(SweepConditionsTest, AReadingOfAnotherSignalOrWithoutAValueIsNoSpeed) {
  begin();
  ReadingEvent event;
  event.signal = "engine_speed";
  event.value = 700;
  conditions_.on_event(event);
  event.signal = "vehicle_speed";
  event.value.reset();
  conditions_.on_event(event);
  conditions_.on_event(GapEvent{});
  EXPECT_FALSE(conditions_.breach(now_));
}

TEST_F(SweepConditionsTest, AListOfCodesThatNobodyCanReadIsNotTold) {
  agree();
  for (const std::uint8_t service : {std::uint8_t{0x03}, std::uint8_t{0x07}})
    told(kAll, 0x7E8, {service}, {static_cast<std::uint8_t>(service + 0x40), 0x02});
  exchange(kGearbox, 0x7E9, {0x19, 0x02, 0xAF}, {}, ExchangeResult::refused);
  now_ += 3s;
  speed(0);
  EXPECT_EQ(conditions_.hindrance(now_), "no unit tells its fault codes");
}

TEST_F(SweepConditionsTest, CodesBeforeAreNoneOrWhatIsKnownSoFar) {
  EXPECT_EQ(conditions_.codes_before(), "none");
  told(kAll, 0x7E8, {0x03}, {0x43, 0x01, 0x01, 0x28});
  EXPECT_EQ(conditions_.codes_before(), "P0128 of 7E8");
}

TEST_F(SweepConditionsTest, TheFirstCodeThatAppearedIsTheReason) {
  begin();
  told(kAll, 0x7E8, {0x07}, {0x47, 0x01, 0x03, 0x01});
  told(kAll, 0x7E8, {0x07}, {0x47, 0x01, 0x03, 0x02});
  EXPECT_EQ(conditions_.breach(now_), "fault code P0301 of 7E8 appeared");
}

TEST_F(SweepConditionsTest, WhatIsSaidOnAnotherBusDoesNotCount) {
  const Endpoint elsewhere{BusName("can1"), standard_id(0x7DF), std::nullopt};
  agree();
  told(elsewhere, 0x7E8, {0x01, 0x0D}, {0x41, 0x0D, 0});
  EXPECT_EQ(conditions_.hindrance(now_), "no unit tells the vehicle's speed (parameter 0D)");
}

}  // namespace
}  // namespace sumplog
