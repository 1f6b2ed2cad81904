#include "core/job/cues.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <string>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::IsEmpty;
using Names = std::vector<std::string>;

class CuesTest : public ::testing::Test {
 protected:
  Cues cues{Celsius{40}};
  CueSituation now_is;

  CuesTest() {
    now_is.now = at_micros(1'700'000'000'000'000);
    now_is.engine_must_run = true;
    now_is.engine_runs = true;
  }
  Names said() {
    std::vector<Event> events;
    cues.update(now_is, events);
    now_is.now += 1s;
    Names names;
    for (const Event& event : events) names.push_back(std::get<CueEvent>(event).name);
    return names;
  }
  Names below(double ahead_s) {
    now_is.window = WindowState::below;
    now_is.announce_in_s = ahead_s;
    now_is.stay_low_s.reset();
    return said();
  }
  Names inside(double reading_c, double left_s) {
    now_is.window = WindowState::inside;
    now_is.announce_in_s.reset();
    now_is.reading_c = reading_c;
    now_is.stay_low_s = left_s;
    return said();
  }
  Names above() {
    now_is.window = WindowState::above;
    now_is.stay_low_s.reset();
    return said();
  }
};

TEST_F(CuesTest, SaysEachThingOnceInTheOrderOfAnApproach) {
  now_is.cycle_missing = true;
  Names all;
  const auto take = [&](const Names& names) { all.insert(all.end(), names.begin(), names.end()); };
  for (int ahead = 400; ahead > 0; ahead -= 5) take(below(ahead));
  for (int left = 300; left > 0; left -= 5) take(inside(35 + (300 - left) / 30.0, left));
  for (int i = 0; i < 10; ++i) take(above());
  EXPECT_THAT(all, ElementsAre("soon_5_min", "lay_out", "soon_2_min", "selector_cycle", "soon_1_min",
                               "window_starts", "decision_point", "ends_in_1_min", "window_ended"));
}

TEST_F(CuesTest, FluidThatCoolsOutOfTheWindowIsNotOnItsWayIntoIt) {
  // Found in a cool-down: a hundredth of a degree below the window the forecast still held a return for possible.
  above();
  inside(36, 50);
  now_is.falling = now_is.fast = true;
  EXPECT_THAT(below(0), IsEmpty());
  EXPECT_THAT(below(100), IsEmpty());
  now_is.falling = now_is.fast = false;
  EXPECT_THAT(below(250), ElementsAre("soon_5_min")) << "it warms up again, and nothing of that was said";
}

TEST_F(CuesTest, CooledThroughTheWindowWithThePlugOutItsEndIsCalledOut) {
  above();
  inside(36, 50);
  now_is.plug_out = now_is.falling = true;
  EXPECT_THAT(below(0), ElementsAre("window_ended"));
  EXPECT_THAT(below(0), IsEmpty());
}

TEST_F(CuesTest, APlugThatIsTakenOutAboveTheWindowIsCalledBack) {
  inside(36, 200);
  EXPECT_THAT(above(), ElementsAre("window_ended"));
  now_is.plug_out = true;
  EXPECT_THAT(above(), ElementsAre("window_ended"));
  EXPECT_THAT(above(), IsEmpty());
}

TEST_F(CuesTest, APlugThatIsTakenOutWhenTheFluidFellBackIsCalledBackWhenItRisesAgain) {
  inside(36, 200);
  above();
  now_is.plug_out = true;
  EXPECT_THAT(inside(44, 200), IsEmpty());
  EXPECT_THAT(above(), ElementsAre("window_ended"));
}

TEST_F(CuesTest, WithoutADecisionPointNoneIsSaid) {
  cues = Cues{std::nullopt};
  EXPECT_THAT(inside(44, 300), ElementsAre("window_starts"));
}

TEST_F(CuesTest, WithoutAReadingTheDecisionPointIsNotSaid) {
  now_is.window = WindowState::inside;
  now_is.stay_low_s = 300;
  EXPECT_THAT(said(), ElementsAre("window_starts"));
  EXPECT_THAT(inside(40, 300), ElementsAre("decision_point"));
}

TEST_F(CuesTest, CooledThroughTheWindowWithThePlugInItsEndIsSaidOnce) {
  EXPECT_THAT(above(), ElementsAre("window_ended"));
  EXPECT_THAT(below(1000), IsEmpty());
}

TEST_F(CuesTest, AsksForNoSelectorCycleThatIsDone) {
  below(100);
  EXPECT_THAT(below(80), IsEmpty());
}

TEST_F(CuesTest, AForecastThatGoesBackAndForthSaysNothingAgain) {
  below(130);
  EXPECT_THAT(below(110), ElementsAre("soon_2_min"));
  EXPECT_THAT(below(150), IsEmpty());
  EXPECT_THAT(below(250), IsEmpty()) << "five minutes after two would be out of order";
  EXPECT_THAT(below(110), IsEmpty());
  EXPECT_THAT(below(55), ElementsAre("soon_1_min"));
}

TEST_F(CuesTest, AShortApproachDropsWhatHasNoRoom) {
  EXPECT_THAT(below(40), ElementsAre("lay_out", "soon_1_min"));
  EXPECT_THAT(inside(39, 50), ElementsAre("window_starts", "ends_in_1_min"));
  EXPECT_THAT(inside(40, 40), IsEmpty()) << "the decision point would come after the end was announced";
  EXPECT_THAT(above(), ElementsAre("window_ended"));
}

TEST_F(CuesTest, ANewApproachIsSaidAnew) {
  below(50);
  inside(36, 200);
  above();
  EXPECT_THAT(below(50), ElementsAre("lay_out", "soon_1_min"));
  EXPECT_THAT(inside(36, 200), ElementsAre("window_starts"));
}

TEST_F(CuesTest, FallingOutOfTheWindowEndsItToo) {
  inside(36, 500);
  now_is.announce_in_s.reset();
  now_is.window = WindowState::below;
  EXPECT_THAT(said(), ElementsAre("window_ended"));
  EXPECT_THAT(below(100), ElementsAre("lay_out", "soon_2_min"));
}

TEST_F(CuesTest, AGapIsNeitherAnEndNorABeginning) {
  below(110);
  now_is.window = WindowState::unknown;
  now_is.announce_in_s.reset();
  EXPECT_THAT(said(), IsEmpty());
  EXPECT_THAT(below(110), IsEmpty());
}

TEST_F(CuesTest, EngineStoppedWithThePlugOutIsSaidAtOnceAndAgainWhenItHappensAgain) {
  inside(36, 300);
  now_is.plug_out = true;
  now_is.engine_runs = false;
  EXPECT_THAT(said(), ElementsAre("engine_stopped"));
  EXPECT_THAT(said(), IsEmpty());
  now_is.engine_runs = true;
  said();
  now_is.engine_runs = false;
  EXPECT_THAT(said(), ElementsAre("engine_stopped"));
}

TEST_F(CuesTest, AnEngineThatStopsWithThePlugInIsNoAlarm) {
  inside(36, 300);
  now_is.engine_runs = false;
  EXPECT_THAT(said(), IsEmpty());
}

TEST_F(CuesTest, NoReadingWithThePlugOutIsSaidAtOnce) {
  inside(36, 300);
  now_is.plug_out = true;
  said();
  now_is.window = WindowState::unknown;
  EXPECT_THAT(said(), ElementsAre("no_reading"));
  EXPECT_THAT(said(), IsEmpty());
}

TEST_F(CuesTest, RisingTooFastIsSaidOnceInAnApproachWhileThePlugIsIn) {
  now_is.fast = true;
  EXPECT_THAT(below(250), ElementsAre("too_fast", "soon_5_min"));
  now_is.fast = false;
  below(240);
  now_is.fast = true;
  EXPECT_THAT(below(230), IsEmpty());
  inside(36, 100);
  above();
  EXPECT_THAT(below(250), ElementsAre("too_fast", "soon_5_min"));
}

TEST_F(CuesTest, AReadingThatTogglesAcrossTheEdgeIsNoNewApproach) {
  below(30);
  EXPECT_THAT(inside(35, 300), ElementsAre("window_starts"));
  now_is.estimate_inside = true;
  EXPECT_THAT(below(0), IsEmpty());
  EXPECT_THAT(inside(35, 300), IsEmpty());
  now_is.estimate_inside = false;
  EXPECT_THAT(below(30), ElementsAre("window_ended", "lay_out", "soon_1_min")) << "now it has left";
}

TEST_F(CuesTest, FallenBelowWithThePlugOutTheEndIsCalledOutOnce) {
  inside(36, 500);
  now_is.plug_out = now_is.falling = true;
  EXPECT_THAT(below(0), ElementsAre("window_ended"));
  EXPECT_THAT(below(0), IsEmpty());
}

}  // namespace
}  // namespace sumplog
