// The verdict of a level check, from readings and entries: kept when everything was, and for one thing that was not, exactly
// its reason.
#include "core/job/level_verdict.h"

#include "core/job/verdict_fixture.h"

namespace sumplog::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

TEST_F(VerdictTest, EverythingWasKept) {
  ready();
  check();
  EXPECT_TRUE(verdict().kept);
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().thermometer, Quality::measured);
  EXPECT_EQ(verdict().origin, "demo-9/service.toml: invented");
  EXPECT_THAT(verdict().by_hand, ElementsAre("car level"));
}

TEST_F(VerdictTest, TellsWhatWasMeasured) {
  ready();
  const double out_c = fluid_c_;
  check(120s);
  const VerdictEvent v = verdict();
  EXPECT_EQ(v.in - v.out, 120s);
  EXPECT_NEAR(v.temp_out_c.value(), out_c, 1);
  EXPECT_NEAR(v.temp_in_c.value(), out_c + 4, 1);
  EXPECT_EQ(v.temp_decision_c, 40);
  EXPECT_EQ(v.temp_low_c, v.temp_out_c);
  EXPECT_EQ(v.temp_high_c, v.temp_in_c);
  EXPECT_NEAR(v.rate_c_per_min.value(), 2, 0.5);
  EXPECT_EQ(v.engine_rpm, 700);
  EXPECT_EQ(v.inside_for_s, 120);
  EXPECT_FALSE(v.level_seen);
}

TEST_F(VerdictTest, TheDecisionPointIsAbsentWhenItWasNotPassed) {
  ready();
  check(10s);
  EXPECT_FALSE(verdict().temp_decision_c);
  warm(42);
  check(10s);
  EXPECT_FALSE(verdict().temp_decision_c) << "it was passed before the plug came out";
}

TEST_F(VerdictTest, WithoutAPlugThatWasOutThereIsNoVerdict) {
  ready();
  entry("plug_in");
  EXPECT_THAT(all<VerdictEvent>(), IsEmpty());
}

// --- the reading ---

TEST_F(VerdictTest, AReadingThatWasLost) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.fluid = false;
  drive(11500ms, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the reading was lost for 12 s, 20 s after plug out: no answer"));
  EXPECT_NEAR(verdict().inside_for_s, 39.5, 0.1);
}

TEST_F(VerdictTest, AReadingThatIsThreeSecondsOldIsNotLost) {
  ready();
  entry("plug_out");
  Car car;
  car.fluid = false;
  drive(2500ms, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
}

TEST_F(VerdictTest, ABusThatWasAwayIsOneReason) {
  // Nothing at all was seen meanwhile: engine, vehicle and selector are not said again.
  ready();
  entry("plug_out");
  drive(20s);
  watch_->on_link(BusName("can0"), LinkState::down);
  watch_->update(now_, events_);
  wait(8s);
  watch_->on_link(BusName("can0"), LinkState::up);
  watch_->update(now_, events_);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the reading was lost for 8.5 s, 20 s after plug out: interface is down"));
}

TEST_F(VerdictTest, ASensorThatGaveNoValue) {
  ready();
  entry("plug_out");
  drive(20s);
  reading("fluid_temperature", std::nullopt);
  wait(500ms);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the reading was lost for 1.0 s, 20 s after plug out: not available"));
}

TEST_F(VerdictTest, AProgramThatWasStopped) {
  ready();
  entry("plug_out");
  drive(20s);
  now_ += 95s;
  watch_->on_resume(now_);
  watch_->update(now_, events_);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the program was stopped for 96 s with the plug out"));
}

TEST_F(VerdictTest, APartOfTheRecordingThatCannotBeRead) {
  ready();
  entry("plug_out");
  drive(20s);
  for (int line = 0; line < 40; ++line) watch_->on_unreadable(now_);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("a part of the recording cannot be read"));
}

TEST_F(VerdictTest, OfManyDifferentHolesSixteenAreTold) {
  ready();
  entry("plug_out");
  drive(20s);
  for (int i = 1; i <= 20; ++i) {
    now_ += std::chrono::seconds{10 + 2 * i};
    watch_->on_resume(now_);
    watch_->update(now_, events_);
    drive(1s);
  }
  entry("plug_in");
  EXPECT_EQ(why().size(), 16U);
  EXPECT_THAT(why(), ::testing::Each(HasSubstr("the program was stopped for ")));
}

TEST_F(VerdictTest, APlugThatIsOutAtTheEnd) {
  ready();
  entry("plug_out");
  drive(20s);
  watch_->on_end(now_, events_);
  EXPECT_FALSE(verdict().kept);
  EXPECT_THAT(why(), ElementsAre("the plug was out when the recording ended"));
}

// --- the window ---

TEST_F(VerdictTest, FluidThatWasAbove) {
  ready();
  warm(44);
  check();
  ASSERT_EQ(why().size(), 1U) << ::testing::PrintToString(why());
  EXPECT_THAT(why()[0], HasSubstr("the fluid was above the window for "));
  EXPECT_THAT(why()[0], HasSubstr(" after plug out"));
  // From 44 °C or a little more to 45 at 2 °C a minute, and at most half a step further.
  EXPECT_GE(verdict().inside_for_s, 20);
  EXPECT_LE(verdict().inside_for_s, 46) << "of two minutes: what was above does not count";
}

TEST_F(VerdictTest, FluidThatWasBelowWhenThePlugCameOut) {
  prepare();
  warm(25);
  cycle();
  warm(33);
  drive(15s);
  check(90s);
  ASSERT_EQ(why().size(), 1U) << ::testing::PrintToString(why());
  EXPECT_THAT(why()[0], HasSubstr("the fluid was below the window for "));
  EXPECT_THAT(why()[0], HasSubstr(", from plug out on"));
}

TEST_F(VerdictTest, APlugThatComesOutAgainAboveTheStartLimit) {
  ready();
  warm(47);
  Car cooling;
  cooling.c_per_min = -4;
  while (fluid_c_ > 41) drive(500ms, cooling);
  check();
  EXPECT_THAT(why(), ElementsAre("begun above the start limit of 30 °C after the window was exceeded"));
}

TEST_F(VerdictTest, AboveTheStartLimitItIsSaidBeforeThePlugComesOut) {
  ready();
  warm(47);
  Car cooling;
  cooling.c_per_min = -4;
  while (fluid_c_ > 41) drive(500ms, cooling);
  EXPECT_EQ(last<CheckEvent>().state, CheckState::not_yet);
  EXPECT_THAT(last<CheckEvent>().why, ElementsAre("window was exceeded: let it cool below 30 °C first"));
}

TEST_F(VerdictTest, BelowTheStartLimitAnExceededWindowIsForgotten) {
  ready();
  warm(47);
  Car cooling;
  cooling.c_per_min = -4;
  while (fluid_c_ > 29) drive(500ms, cooling);
  warm(37);
  check();
  EXPECT_THAT(why(), IsEmpty());
}

TEST_F(VerdictTest, WithoutAWindowNothingWasKept) {
  service_.window.reset();
  use(std::nullopt);
  soak();
  codes();
  confirm();
  warm_up_with_cycle();
  check();
  EXPECT_THAT(why(), ElementsAre("no window is set"));
}

// --- engine, vehicle, selector ---

TEST_F(VerdictTest, AnEngineThatStopped) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.rpm = 0;
  drive(5s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was off for 5.0 s, 20 s after plug out"))
      << "settling and selector cycle are asked for before the plug comes out";
}

TEST_F(VerdictTest, AnEngineThatWasNotAtIdle) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.rpm = 1500;
  drive(3s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was not at idle for 3.0 s, 20 s after plug out"));
}

TEST_F(VerdictTest, AVehicleThatMoved) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.km_h = 3;
  drive(2s, car);
  drive(5s);
  drive(2s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(),
              ElementsAre("the vehicle moved for 4.0 s in 2 stretches, the first 20 s after plug out"));
}

TEST_F(VerdictTest, ASelectorThatWasMoved) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.selector = "D";
  drive(6s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the selector was in D for 6.0 s, 20 s after plug out"));
}

TEST_F(VerdictTest, ASelectorPositionThatHasNoNameIsNoneOfThoseThatAreAllowed) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.selector = "";
  drive(6s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the selector was in an unknown position for 6.0 s, 20 s after plug out"));
}

TEST_F(VerdictTest, WhatCouldNotBeSeenWasNotKept) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.neighbours = false;
  drive(10s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("engine speed was not known for 7.5 s, 23 s after plug out",
                                 "vehicle speed was not known for 7.5 s, 23 s after plug out",
                                 "selector position was not known for 7.5 s, 23 s after plug out"));
}

TEST_F(VerdictTest, WhatWasNotKnownAndWhatWasWrongAreToldApart) {
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.selector = "R";
  drive(2s, car);
  car.selector = "N";
  drive(5s, car);
  car.selector = "D";
  drive(2s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(),
              ElementsAre("the selector was in R for 2.0 s, 20 s after plug out; the selector was in D for "
                          "2.0 s, 27 s after plug out"));
}

// --- the preparation ---

TEST_F(VerdictTest, APlugThatCameOutTooSoonAfterEngineStart) {
  service_.settling_time = invented(Duration{600s});
  ready();
  check();
  EXPECT_THAT(why(), ElementsAre("the plug came out within the settling time after engine start"));
}

TEST_F(VerdictTest, APlugThatCameOutTooSoonAfterFluidWasAdded) {
  ready();
  entry("fluid_added");
  drive(20s);
  check(90s);
  EXPECT_THAT(why(), ElementsAre("the plug came out within the settling time after fluid was added"));
}

TEST_F(VerdictTest, OfManyAdditionsTheLastOnesCount) {
  ready();
  for (int i = 0; i < 70; ++i) entry("fluid_added", R"({"ago_s":300})");
  entry("fluid_added");
  drive(20s);
  check(90s);
  EXPECT_THAT(why(), ElementsAre("the plug came out within the settling time after fluid was added"));
}

TEST_F(VerdictTest, FluidThatIsAddedWithThePlugOutMustHaveMixedWhenItComesIn) {
  ready();
  entry("plug_out");
  drive(20s);
  entry("fluid_in", R"({"litres":0.3})");
  drive(30s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the plug came in within the settling time after fluid was added"));

  ready();
  entry("plug_out");
  drive(20s);
  entry("fluid_added");
  drive(65s);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty()) << "dry at the decision point: add, wait, look again";
}

TEST_F(VerdictTest, ASelectorCycleThatWasNotComplete) {
  prepare();
  warm(37);
  check();
  EXPECT_THAT(why(), ElementsAre("the selector cycle was not complete at plug out: R"));
}

TEST_F(VerdictTest, ASelectorCycleThatWasTickedIsSaidToBeByHand) {
  prepare();
  warm(37);
  entry("selector_cycle_done");
  check();
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_THAT(verdict().by_hand, ElementsAre("selector cycle", "car level"));
}

// --- engine off ---

TEST_F(VerdictTest, AFamilyThatIsCheckedWithTheEngineOff) {
  service_.engine = invented(EngineState::stopped);
  service_.idle.reset();
  service_.settling_time.reset();
  prepare();
  warm_up_with_cycle();
  Car off;
  off.rpm = 0;
  off.c_per_min = 0.5;
  drive(30s, off);
  entry("plug_out");
  drive(60s, off);
  entry("plug_in");
  EXPECT_THAT(why(), IsEmpty());
  EXPECT_EQ(verdict().engine_rpm, 0);
  entry("plug_out");
  drive(20s, off);
  drive(5s);
  drive(20s, off);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was running for 5.0 s, 20 s after plug out"));
}

TEST_F(VerdictTest, WithoutAServiceFileNothingIsKnown) {
  JobConfiguration c;
  c.window = TemperatureWindow{{35}, {45}};
  watch_.emplace(std::move(c));
  fluid_c_ = 38;
  drive(10s);
  check(10s);
  EXPECT_THAT(why(), ElementsAre("no service file: the conditions of the level check are not known"));
}

TEST_F(VerdictTest, CodesThatWereReadOnlyAfterThePlugCameOut) {
  use();
  soak();
  confirm();
  warm_up_with_cycle();
  drive(10s);
  codes();
  drive(5s);
  entry("plug_out", R"({"ago_s":10})");  // entered late: it came out before they were read
  drive(60s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("fault codes were read after plug out, not before it"));
}

TEST_F(VerdictTest, SensorCodesOfTwoUnitsAreBothNamed) {
  ready();
  const CodeLine invented_value{"P0711", {"stored"}, "0711", "", "invalidates the level check", ""};
  codes({invented_value});
  CodesEvent other;
  other.at = now_;
  other.bus = BusName("can0");
  other.ecu = "7E8";
  other.service = "03";
  other.codes = {invented_value};
  watch_->on_codes(other);
  watch_->update(now_, events_);
  check();
  EXPECT_THAT(why(), ::testing::Contains(::testing::AllOf(HasSubstr("in 7E8"), HasSubstr("in 7E9"))));
}

TEST_F(VerdictTest, AFamilyThatOnlyNamesItsIdleWantsARunningEngine) {
  service_.engine.reset();
  ready();
  entry("plug_out");
  drive(20s);
  Car car;
  car.rpm = 0;
  drive(5s, car);
  drive(20s);
  entry("plug_in");
  EXPECT_THAT(why(), ElementsAre("the engine was off for 5.0 s, 20 s after plug out"));
}

TEST_F(VerdictTest, AReadingThatWasLostBeforeOrAfterTheProgramWasStoppedIsAReasonOfItsOwn) {
  Car silent;
  silent.fluid = false;
  for (const bool before : {true, false}) {
    ready();
    entry("plug_out");
    drive(10s);
    if (before) drive(10s, silent);
    now_ += 20s;
    watch_->on_resume(now_);
    watch_->update(now_, events_);
    if (!before) drive(10s, silent);
    drive(10s);
    entry("plug_in");
    EXPECT_THAT(why(), ::testing::UnorderedElementsAre(HasSubstr("the reading was lost"),
                                                       HasSubstr("the program was stopped")))
        << before;
  }
}

}  // namespace
}  // namespace sumplog::testing
