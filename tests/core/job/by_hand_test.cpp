// Readings by hand, doubt and cues, as the watch over the fluid joins them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "core/job/watched_fluid.h"

namespace sumplog::testing {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

class ByHandTest : public WatchedFluid {
 protected:
  ByHandTest() {
    JobConfiguration c;
    c.window = TemperatureWindow{{35}, {45}};
    c.minimum_stay = 120s;
    watch_.emplace(std::move(c));
  }
  void by_hand(double value) {
    entry("reading_by_hand", R"({"value_c":)" + std::to_string(value) + R"(,"place":"stream"})");
  }
  std::string why() const { return all<ThermalEvent>().empty() ? "" : last<ThermalEvent>().why; }
};

TEST_F(ByHandTest, AReadingByHandAloneGivesTheWindowForAMinute) {
  by_hand(38);
  EXPECT_EQ(state(), WindowState::inside);
  wait(59s);
  EXPECT_EQ(state(), WindowState::inside);
  wait(2s);
  EXPECT_EQ(state(), WindowState::unknown);
}

TEST_F(ByHandTest, ThatItIsTooOldIsSaidWhereTheUnitNeverSpoke) {
  by_hand(38);
  wait(61s);
  EXPECT_EQ(last<WindowEvent>().why, "the reading by hand is too old");
  EXPECT_EQ(last<CheckEvent>().state, CheckState::unknown);
  reading("fluid_temperature", 30);
  by_hand(38);
  wait(100s);
  EXPECT_EQ(last<WindowEvent>().why, "no answer") << "a unit that spoke is told of";
}

TEST_F(ByHandTest, ThatTwoContradictIsSaidOfAUnitThatSpokeToo) {
  reading("fluid_temperature", 30);
  wait(10s);
  by_hand(62);
  wait(6s);
  by_hand(40);
  EXPECT_EQ(last<WindowEvent>().why, "two readings by hand contradict each other: read again");
  wait(100s);
  EXPECT_EQ(why(), "no answer");
}

TEST_F(ByHandTest, ItIsMarkedInTheJournal) {
  by_hand(38);
  const auto* reading = std::get_if<ReadingEvent>(&events_.front());
  ASSERT_NE(reading, nullptr);
  EXPECT_EQ(reading->quality, Quality::by_hand);
  EXPECT_EQ(reading->ecu, "by hand");
  EXPECT_EQ(reading->label, "stream");
}

TEST_F(ByHandTest, AUnitThatIsBelievedIsNotOverruled) {
  reading("fluid_temperature", 30);
  by_hand(40);
  EXPECT_EQ(state(), WindowState::below);
}

TEST_F(ByHandTest, ItTakesOverWhereTheUnitFallsSilent) {
  reading("fluid_temperature", 38);
  wait(4s);
  EXPECT_EQ(state(), WindowState::unknown);
  by_hand(33);
  EXPECT_EQ(state(), WindowState::below);
  wait(500ms);
  reading("fluid_temperature", 38);
  EXPECT_EQ(state(), WindowState::inside) << "the unit is back";
}

TEST_F(ByHandTest, AnEstimateThatRestsOnAReadingByHandSaysSo) {
  for (int i = 0; i < 20; ++i) {
    reading("fluid_temperature", 33);
    wait(500ms);
  }
  EXPECT_FALSE(last<ThermalEvent>().by_hand);
  for (int i = 0; i < 60; ++i) {
    reading("fluid_temperature", 80);
    wait(500ms);
  }
  EXPECT_FALSE(last<ThermalEvent>().by_hand) << "it is not believed, and nobody has read another";
  by_hand(41);
  EXPECT_EQ(state(), WindowState::inside);
  EXPECT_TRUE(last<ThermalEvent>().by_hand);
  EXPECT_NEAR(last<ThermalEvent>().temp_c.value_or(0), 41, 1);
  for (int i = 0; i < 20; ++i) {
    reading("fluid_temperature", 80);
    wait(500ms);
    EXPECT_TRUE(last<ThermalEvent>().by_hand) << "what the unit says meanwhile is not shown as believed";
  }
}

TEST_F(ByHandTest, TheEstimateChangesItsSourceAtOnce) {
  for (int i = 0; i < 20; ++i) {
    wait(500ms);
    reading("fluid_temperature", 40);
  }
  by_hand(40);
  ASSERT_FALSE(last<ThermalEvent>().by_hand);
  wait(100ms);
  reading("fluid_temperature", 80);
  EXPECT_EQ(state(), WindowState::inside) << "by the reading by hand";
  EXPECT_TRUE(last<ThermalEvent>().by_hand) << "80 °C and inside never stand beside each other";
  wait(100ms);
  reading("fluid_temperature", 40);
  EXPECT_FALSE(last<ThermalEvent>().by_hand) << "the unit is back";
}

TEST_F(ByHandTest, NonsenseIsKeptAsAnEntryAndUsedForNothing) {
  by_hand(4000);
  entry("reading_by_hand", R"({"value_c":"warm"})");
  entry("reading_by_hand", "no object");
  EXPECT_EQ(state(), WindowState::unknown);
}

TEST_F(ByHandTest, ACopyOfTheCoolantIsNeverInside) {
  for (int i = 0; i < 400; ++i) {
    wait(1s);
    reading("coolant_temperature", 30 + i / 40);
    reading("fluid_temperature", 30 + i / 40);
  }
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_THAT(why(), HasSubstr("perhaps it is the coolant"));
  by_hand(37);
  EXPECT_EQ(state(), WindowState::inside) << "what a person reads counts meanwhile";
}

TEST_F(ByHandTest, AReadingByHandSettlesNothingWhereTheUnitWasNotReadBesideIt) {
  for (int i = 0; i < 100; ++i) {
    wait(1s);
    reading("coolant_temperature", 60 + i / 10, "", "7E8");
    reading("fluid_temperature", 80);
  }
  ASSERT_THAT(why(), HasSubstr("stays at 80 °C"));
  wait(400s);
  by_hand(79);
  wait(100s);
  reading("fluid_temperature", 80);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_THAT(why(), HasSubstr("stays at 80 °C"));
  by_hand(79);
  EXPECT_EQ(state(), WindowState::above) << "read beside it, it does";
}

TEST_F(ByHandTest, AReadingThatContradictsTheOneBeforeIsInsideOnlyWhenTheNextAgrees) {
  for (const double first : {25.0, 62.0}) {
    wait(700s);  // what was before is forgotten
    by_hand(first);
    ASSERT_EQ(state(), first < 35 ? WindowState::below : WindowState::above);
    wait(6s);
    by_hand(40);
    EXPECT_EQ(state(), WindowState::unknown) << first;
    EXPECT_EQ(last<WindowEvent>().why, "two readings by hand contradict each other: read again");
    wait(6s);
    EXPECT_EQ(state(), WindowState::unknown) << first;
    by_hand(40);
    EXPECT_EQ(state(), WindowState::inside) << first;
    EXPECT_NEAR(*last<ThermalEvent>().temp_c, 40, 1) << "the forecast began anew";
  }
}

TEST_F(ByHandTest, OneSlipIsNeverInside) {
  by_hand(62);
  wait(6s);
  by_hand(40);
  wait(6s);
  by_hand(62);
  EXPECT_EQ(state(), WindowState::above);
  wait(6s);
  by_hand(62);
  EXPECT_EQ(state(), WindowState::above);
  for (const WindowEvent& one : all<WindowEvent>()) EXPECT_NE(one.to, WindowState::inside);
}

TEST_F(ByHandTest, AReadingOutsideCountsAtOnceWhateverWasBefore) {
  by_hand(25);
  wait(6s);
  by_hand(62);
  EXPECT_EQ(state(), WindowState::above);
  EXPECT_NEAR(*last<ThermalEvent>().temp_c, 62, 1);
  wait(6s);
  by_hand(25);
  EXPECT_EQ(state(), WindowState::below);
}

TEST_F(ByHandTest, TheCuesOfAnApproachComeFromTheForecast) {
  for (int i = 0; i < 1200; ++i) {
    wait(500ms);
    reading("fluid_temperature", 25 + i / 40);  // 3 °C a minute
  }
  const auto names = cues();
  EXPECT_THAT(names, Contains("soon_1_min"));
  EXPECT_THAT(names, Contains("window_starts"));
  EXPECT_THAT(names, Contains("window_ended"));
  for (const auto& name : names) EXPECT_EQ(std::count(names.begin(), names.end(), name), 1) << name;
}

TEST_F(ByHandTest, NoReadingWithThePlugOutIsACue) {
  reading("fluid_temperature", 38);
  entry("plug_out");
  EXPECT_THAT(cues(), Not(Contains("no_reading")));
  wait(4s);
  EXPECT_THAT(cues(), Contains("no_reading"));
}

TEST_F(ByHandTest, AValueThatTheUnitItselfDoubtsIsNone) {
  reading("fluid_temperature", 40);
  ASSERT_EQ(state(), WindowState::inside);
  ReadingEvent r;
  r.at = now_;
  r.bus = BusName("can0");
  r.ecu = "7E9";
  r.signal = "fluid_temperature";
  r.value = 41;
  r.quality = Quality::suspect;
  watch_->on_reading(r, events_);
  watch_->update(now_, events_);
  EXPECT_EQ(state(), WindowState::unknown);
  EXPECT_EQ(why(), "the unit gives no value");
}

TEST_F(ByHandTest, AHotEngineIsSaidOfAReadingByHandToo) {
  reading("engine_speed", 700, "", "7E8");
  reading("coolant_temperature", 88, "", "7E8");
  by_hand(32);
  ASSERT_THAT(cues(), Contains("hot_engine"));
  EXPECT_THAT(last<CueEvent>().text, HasSubstr("coolant 88 °C, fluid 32 °C"));
}

TEST_F(ByHandTest, TheNextDeadlineIsTheSecondThatIsBridgedOrTheEndOfTheReading) {
  const TimePoint read_at = now_;
  by_hand(38);
  EXPECT_EQ(watch_->deadline(), read_at + 1s);
  now_ += 200ms;
  reading("fluid_temperature", 38);
  EXPECT_EQ(watch_->deadline(), now_ + 3s + 1us) << "a unit that answers is not bridged";
  now_ = read_at + 58s;
  reading("fluid_temperature", 38);
  EXPECT_EQ(watch_->deadline(), read_at + 60s + 1us);
}

TEST_F(ByHandTest, AReadingOfAFluidThatStaysInsideCountsForItsMinute) {
  for (int i = 0; i < 20; ++i) {
    by_hand(40);
    wait(59s);
    EXPECT_EQ(state(), WindowState::inside) << i;
  }
}

TEST_F(ByHandTest, ACoolantThatWasReadLongAgoIsNoHotEngine) {
  reading("coolant_temperature", 88, "", "7E8");
  wait(60s + 1us);
  reading("engine_speed", 700, "", "7E8");
  by_hand(32);
  EXPECT_THAT(cues(), Not(Contains("hot_engine")));
}

}  // namespace
}  // namespace sumplog::testing
