// The verdict of a level check where it rests on a person: a second thermometer, entries that came late, what was seen.
#include "core/job/level_verdict.h"
#include "core/job/verdict_fixture.h"

namespace sumplog::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

// --- what the technician stands for ---

TEST_F(VerdictTest, WhatNobodyConfirmed) {
  use();
  soak();
  codes();
  entry("condition_ticked", R"({"condition":"car level"})");
  warm_up_with_cycle();
  check(10s);
  EXPECT_THAT(why(), ElementsAre("nobody confirmed the window", "nobody confirmed the decoder"));
  entry("confirmed", R"({"what":"window"})");
  check(10s);
  EXPECT_THAT(why(), ElementsAre("nobody confirmed the decoder"));
  entry("confirmed", R"({"what":"decoder"})");
  check(10s);
  EXPECT_THAT(why(), IsEmpty());
}

TEST_F(VerdictTest, AConditionThatNobodyTicked) {
  use();
  soak();
  codes();
  entry("confirmed", R"({"what":"window"})");
  entry("confirmed", R"({"what":"decoder"})");
  warm_up_with_cycle();
  check();
  EXPECT_THAT(why(), ElementsAre("not ticked: car level"));
}

TEST_F(VerdictTest, AConditionThatIsTickedAfterPlugOutCountsForTheWholeCheck) {
  use();
  soak();
  codes();
  entry("confirmed", R"({"what":"window"})");
  entry("confirmed", R"({"what":"decoder"})");
  warm_up_with_cycle();
  entry("plug_out");
  drive(20s);
  entry("condition_ticked", R"({"condition":"car level"})");
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
}

TEST_F(VerdictTest, AConditionThatWasTakenBackDuringTheCheck) {
  ready();
  entry("plug_out");
  drive(20s);
  entry("condition_ticked", R"({"condition":"car level","holds":false})");
  drive(20s);
  entry("condition_ticked", R"({"condition":"car level"})");
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("not ticked: car level"));
}

TEST_F(VerdictTest, AWindowThatWasTypedNeedsAnOrigin) {
  use(TemperatureWindow{{30}, {50}});
  soak();
  codes();
  confirm();
  warm_up_with_cycle();
  check(10s);
  EXPECT_THAT(why(), ElementsAre("nobody said where the window comes from"));
  entry("confirmed", R"({"what":"window","origin":"label under the bonnet"})");
  check(10s);
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().origin, "label under the bonnet");
  EXPECT_THAT(verdict().by_hand, ElementsAre("car level", "origin of the window"));
}

TEST_F(VerdictTest, FluidThatWasAddedBeforePlugOutAndEnteredAfterIt) {
  ready();
  drive(60s);
  entry("plug_out");
  drive(5s);
  entry("fluid_added", R"({"ago_s":25})");
  drive(80s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the plug came out within the settling time after fluid was added"));
}

TEST_F(VerdictTest, AThermometerThatWasNeverCompared) {
  use();
  codes();
  confirm();
  fluid_c_ = 28;
  warm_up_with_cycle();
  drive(40s);
  check(10s);
  EXPECT_THAT(why(), ElementsAre("the unit's thermometer was not compared with another one"))
      << "the job began with a warm engine";
  entry("confirmed", R"({"what":"thermometer"})");
  check(10s);
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_THAT(verdict().by_hand, ElementsAre("car level", "thermometer compared in an earlier job"));
}

TEST_F(VerdictTest, ASecondThermometerThatAgreesConfirmsTheUnits) {
  use();
  codes();
  confirm();
  fluid_c_ = 28;
  warm_up_with_cycle();
  drive(40s);
  read_by_hand(39.5);
  check(10s);
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().thermometer, Quality::measured);
}

TEST_F(VerdictTest, ASecondThermometerThatDiffersSpeaksAgainstTheUnits) {
  ready();
  read_by_hand(47);
  check(10s);
  EXPECT_THAT(why(), ElementsAre("the second thermometer differed by 10 °C"));
}

TEST_F(VerdictTest, AnInferredDecoderCountsOnlyWhenAProbeAgreedInThisJob) {
  decoder_origin_ = Origin::inferred;
  ready();
  entry("confirmed", R"({"what":"thermometer"})");
  check(10s);
  EXPECT_THAT(why(),
              ElementsAre("the decoder was inferred, and no second thermometer agreed with it in this job"))
      << "neither the cold engine nor an earlier job confirms it";
  read_by_hand(39.5);
  check(10s);
  EXPECT_THAT(why(), IsEmpty());
}

// --- by hand ---

TEST_F(VerdictTest, ReadingsByHandAtBothEndsStandInForTheUnit) {
  const Car silent = ready_then_silent();
  read_by_hand(38);
  entry("plug_out");
  drive(40s, silent);
  read_by_hand(39.5);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().thermometer, Quality::by_hand);
  EXPECT_THAT(verdict().by_hand, ElementsAre("fluid temperature", "car level"));
  EXPECT_EQ(verdict().temp_out_c, 38);
  EXPECT_EQ(verdict().temp_in_c, 39.5);
}

TEST_F(VerdictTest, AReadingInTheStreamComesAfterPlugOut) {
  const Car silent = ready_then_silent();
  entry("plug_out");
  drive(10s, silent);
  read_by_hand(38);
  drive(120s, silent);
  read_by_hand(40);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().thermometer, Quality::by_hand);
}

TEST_F(VerdictTest, AReadingThatContradictsTheOneBeforeIsNoneAtPlugOut) {
  const Car silent = ready_then_silent();
  read_by_hand(25);
  drive(65s, silent);
  entry("plug_out");
  drive(1s, silent);
  read_by_hand(40);
  drive(70s, silent);
  read_by_hand(41);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("no reading by hand at plug out"));
}

TEST_F(VerdictTest, OneReadingByHandIsNotEnough) {
  const Car silent = ready_then_silent();
  read_by_hand(38);
  entry("plug_out");
  drive(120s, silent);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("no reading by hand at plug in"));
  drive(70s, silent);
  entry("plug_out");
  drive(120s, silent);
  read_by_hand(40);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("no reading by hand at plug out"));
}

TEST_F(VerdictTest, AReadingByHandOutsideOfTheWindowIsAReason) {
  const Car silent = ready_then_silent();
  read_by_hand(43);
  entry("plug_out");
  drive(50s, silent);
  read_by_hand(46);
  drive(5s, silent);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the fluid was above the window for 5.0 s, 50 s after plug out"));
}

TEST_F(VerdictTest, AReadingByHandOutsideAtTheVeryMomentOfPlugInIsAReason) {
  const Car silent = ready_then_silent();
  read_by_hand(43);
  entry("plug_out");
  drive(50s, silent);
  read_by_hand(46);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre(HasSubstr("the fluid was above the window")));
}

TEST_F(VerdictTest, ByHandNeitherDecoderNorCodesAreAskedFor) {
  use();
  entry("confirmed", R"({"what":"window"})");
  entry("condition_ticked", R"({"condition":"car level"})");
  Car silent;
  silent.fluid = false;
  drive(10s, silent);
  Car moved = silent;
  for (const char* position : {"R", "D"}) {
    moved.selector = position;
    drive(4s, moved);
  }
  drive(60s, silent);
  read_by_hand(38);
  entry("plug_out");
  drive(30s, silent);
  read_by_hand(39);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
}

// --- entered late ---

TEST_F(VerdictTest, APlugThatCameOutAndInEarlierIsJudgedForThen) {
  ready();
  drive(100s);
  entry("plug_out", R"({"ago_s":90})");
  entry("plug_in", R"({"ago_s":30})");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().in - verdict().out, 60s);
  EXPECT_THAT(verdict().by_hand, ElementsAre("plug out 90 s ago", "plug in 30 s ago", "car level"));
  EXPECT_EQ(verdict().inside_for_s, 60);
}

TEST_F(VerdictTest, WhatHappenedAfterALatePlugInDoesNotCount) {
  ready();
  entry("plug_out");
  drive(40s);
  Car off;
  off.rpm = 0;
  drive(20s, off);
  entry("plug_in", R"({"ago_s":25})");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().engine_rpm, 700);
}

TEST_F(VerdictTest, WhatHappenedAfterALatePlugOutCounts) {
  ready();
  Car car;
  car.rpm = 1500;
  drive(5s, car);
  drive(30s);
  entry("plug_out", R"({"ago_s":45})");
  drive(5s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was not at idle for 5.0 s, 10 s after plug out"));
}

TEST_F(VerdictTest, ALateSelectorCycleStateIsThatOfTheMomentThatThePersonSays) {
  prepare();
  warm(37);
  cycle();
  drive(20s);
  entry("plug_out", R"({"ago_s":24})");
  drive(10s);
  entry("plug_in");
  EXPECT_THAT(why(), Contains("the selector cycle was not complete at plug out: D"));
}

TEST_F(VerdictTest, BeforeTheRecordingBeganNothingWasSeen) {
  use();
  fluid_c_ = 37;
  confirm();
  drive(60s);
  entry("plug_out", R"({"ago_s":120})");
  entry("plug_in");
  EXPECT_THAT(why(), Contains(HasSubstr("the reading was lost for ")));
}

TEST_F(VerdictTest, APlugThatIsOutForAnHourIsJudgedAsAWhole) {
  ready();
  entry("plug_out");
  drive(500ms);
  Car car;
  car.rpm = 0;
  drive(5s, car);
  Car steady;
  steady.c_per_min = 0.02;
  drive(3600s, steady);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was off for 5.0 s, 0.5 s after plug out"));
  EXPECT_EQ(verdict().temp_low_c, verdict().temp_out_c);
}

TEST_F(VerdictTest, ASecondPlugOutDoesNotShortenTheCheck) {
  ready();
  entry("plug_out");
  Car car;
  car.rpm = 0;
  drive(5s, car);
  drive(5s);
  check(5s);
  EXPECT_EQ(verdict().in - verdict().out, 15s);
  EXPECT_FALSE(verdict().kept);
}

// --- what was seen ---

TEST_F(VerdictTest, TheLevelThatWasSeenIsAnotherStatement) {
  ready();
  entry("plug_out");
  drive(30s);
  entry("level_seen", R"({"flow":"dry","by":"T. Example"})");
  drive(30s);
  entry("plug_in");
  EXPECT_TRUE(verdict().kept) << "a level that is too low says nothing of how it was looked at";
  ASSERT_TRUE(verdict().level_seen);
  EXPECT_EQ(verdict().level_seen->flow, "dry");
  EXPECT_EQ(verdict().level_seen->by, "T. Example");
  EXPECT_EQ(verdict().level_seen->criterion, "drip");
  EXPECT_EQ(verdict().level_seen->reached, false);
}

TEST_F(VerdictTest, EnteredAfterwardsTheVerdictIsSaidAgainWithIt) {
  ready();
  check();
  drive(30s);
  entry("level_seen", R"({"flow":"drip","ml_in_10_s":1})");
  const auto verdicts = all<VerdictEvent>();
  ASSERT_EQ(verdicts.size(), 2U);
  EXPECT_EQ(verdicts[1].at, now_);
  EXPECT_EQ(verdicts[1].in, verdicts[0].in);
  EXPECT_EQ(verdicts[1].kept, verdicts[0].kept);
  EXPECT_EQ(verdicts[1].level_seen->reached, true);
}

TEST_F(VerdictTest, ALevelThatWasSeenBeforeAnyCheckSaysNothing) {
  ready();
  entry("level_seen", R"({"flow":"drip"})");
  EXPECT_THAT(all<VerdictEvent>(), IsEmpty());
  check();
  EXPECT_FALSE(verdict().level_seen);
}

TEST_F(VerdictTest, ASecondCheckStartsAnew) {
  ready();
  entry("plug_out");
  Car car;
  car.rpm = 1500;
  drive(5s, car);
  entry("level_seen", R"({"flow":"dry"})");
  entry("plug_in");
  EXPECT_FALSE(verdict().kept);
  drive(20s);
  check();
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_FALSE(verdict().level_seen);
}

TEST_F(VerdictTest, TheNoteOfTheServiceFileStandsBehindTheOriginOfItsWindow) {
  service_.window->note = "invented handbook, page 9";
  ready();
  check();
  EXPECT_EQ(verdict().origin, "demo-9/service.toml: invented, invented handbook, page 9");
}

TEST_F(VerdictTest, ALevelThatWasSeenBeforeThePlugCameOutOrWithoutWhatWasSeenSaysNothing) {
  ready();
  entry("plug_out");
  drive(20s);
  entry("level_seen", R"({"flow":"drip","ago_s":60})");
  entry("level_seen", R"({"flow":"much"})");
  drive(20s);
  entry("plug_in");
  EXPECT_FALSE(verdict().level_seen);
  entry("level_seen", R"({"flow":"drip","ago_s":300})");
  EXPECT_EQ(all<VerdictEvent>().size(), 1U);
}

TEST_F(VerdictTest, AHoleThatBeganAfterALatePlugInDoesNotCount) {
  ready();
  entry("plug_out");
  drive(40s);
  watch_->on_unreadable(now_);
  drive(10s);
  entry("plug_in", R"({"ago_s":30})");
  EXPECT_THAT(why(), IsEmpty());
}

/// A person's words beside a decoder that reads the fluid temperature from such origins.
Confirmations confirmations(const std::vector<Origin>& origins) {
  JobConfiguration c;
  c.decoders.emplace_back();
  for (const Origin origin : origins) {
    c.decoders.back().signals.emplace_back();
    c.decoders.back().signals.back().name = "fluid_temperature";
    c.decoders.back().signals.back().origin = origin;
  }
  return Confirmations(c);
}

TEST(Confirmations, ReadingsThatNoDecoderReadNeedAnOrigin) {
  // As a table that another program wrote gives them.
  Confirmations said = confirmations({});
  said.on_entry(Entry{{}, "1", "confirmed", R"({"what":"decoder"})"});
  EXPECT_EQ(said.decoder_reason(), "nobody said where the readings come from");
  EXPECT_THAT(said.by_hand(true), IsEmpty());
  said.on_entry(Entry{{}, "2", "confirmed", R"({"what":"decoder","origin":"table of the test bench"})"});
  EXPECT_FALSE(said.decoder_reason());
  EXPECT_THAT(said.by_hand(true), ElementsAre("origin of the readings"));
  Confirmations known = confirmations({Origin::capture});
  known.on_entry(Entry{{}, "3", "confirmed", R"({"what":"decoder","origin":"as I was told"})"});
  EXPECT_THAT(known.by_hand(true), IsEmpty()) << "the decoder names its own";
}

TEST(Confirmations, OneInferredSignalOfSeveralIsEnoughToAskForAProbe) {
  for (const auto& origins :
       {std::vector{Origin::inferred, Origin::capture}, std::vector{Origin::capture, Origin::inferred}})
    EXPECT_TRUE(confirmations(origins).thermometer_reason(true));
  EXPECT_FALSE(confirmations({Origin::capture, Origin::invented}).thermometer_reason(true));
}

TEST_F(VerdictTest, WhatAPersonAndTheUnitReadOutsideOfTheWindowIsToldInItsOrder) {
  const Car silent = ready_then_silent();
  read_by_hand(43);
  entry("plug_out");
  for (const double value_c : {34.0, 43.0}) {
    drive(10s, silent);
    read_by_hand(value_c);
  }
  Car warming;
  warming.c_per_min = 24;
  drive(40s, warming);
  read_by_hand(43);
  entry("plug_in");
  EXPECT_THAT(why(), Contains(::testing::MatchesRegex("the fluid was below .*; the fluid was above .*")));
}

TEST_F(VerdictTest, AReadingThatWasLostIsSaidOfTheUnitWhereItAnsweredBefore) {
  ready();
  entry("plug_out");
  drive(70s);
  Car silent;
  silent.fluid = false;
  drive(20s, silent);
  read_by_hand(40);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre(HasSubstr("the reading was lost")));
}

TEST_F(VerdictTest, AReadingThatWasLostAllTheTimeWithoutOneByHandIsSaidToBeLost) {
  const Car silent = ready_then_silent();
  entry("plug_out");
  drive(20s, silent);
  entry("plug_in");
  EXPECT_THAT(why(), Contains(HasSubstr("the reading was lost for 20 s, from plug out on")));
}

TEST_F(VerdictTest, OfManyReadingsByHandTheFirstIsForgotten) {
  for (const int more : {63, 64}) {
    const Car silent = ready_then_silent();
    entry("plug_out");
    drive(10s, silent);
    read_by_hand(40);
    drive(51s, silent);
    for (int i = 0; i < more; ++i) {
      drive(500ms, silent);
      read_by_hand(40);
    }
    entry("plug_in");
    if (more == 63)
      EXPECT_THAT(why(), IsEmpty());
    else
      EXPECT_THAT(why(), ElementsAre("no reading by hand at plug out"));
  }
}

}  // namespace
}  // namespace sumplog::testing
