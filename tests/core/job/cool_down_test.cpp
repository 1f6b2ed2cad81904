#include "core/job/cool_down.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <cmath>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// A gearbox beside its engine in the air of a workshop. In still air it needs 100…170 minutes for 63 % of its
/// way (common practice, no source).
struct Car {
  double fluid_c = 80;
  double engine_c = 80;
  double around_c = 20;
  double minutes = 130;         ///< time constant towards the air
  double to_engine_min = 1e12;  ///< and towards the engine
  void wait(double min) {
    constexpr double kStep_min = 0.1;
    for (double gone = 0; gone < min - kStep_min / 2; gone += kStep_min) {
      const double f = -(fluid_c - around_c) / minutes + (engine_c - fluid_c) / to_engine_min;
      const double e = -(engine_c - around_c) / (1.2 * minutes) - (engine_c - fluid_c) / to_engine_min;
      fluid_c += kStep_min * f;
      engine_c += kStep_min * e;
    }
  }
  [[nodiscard]] double minutes_until(double target_c) const {
    Car later = *this;
    double gone = 0;
    for (; later.fluid_c >= target_c; gone += 0.1) later.wait(0.1);
    return gone;
  }
};

class CoolDownTest : public ::testing::Test {
 protected:
  CoolDownTest() { use(CoolDown::Target{{30}, {}, true}); }
  void use(std::optional<CoolDown::Target> target) { plan_.emplace(target); }
  void update() {
    events_.clear();
    plan_->update(now_, events_);
    for (const Event& event : events_) {
      if (const auto* one = std::get_if<ForecastEvent>(&event)) forecasts_.push_back(*one);
      if (const auto* one = std::get_if<CueEvent>(&event)) cues_.push_back(one->text);
    }
  }
  void by_hand(double value_c) {
    plan_->on_fluid_by_hand(now_, std::round(value_c));
    update();
  }
  void wait(double minutes) {
    now_ += Duration{std::llround(minutes * 60e6)};
    car_.wait(minutes);
  }
  void three_by_hand(double every_min) {
    for (int i = 0; i < 3; ++i) {
      if (i > 0) wait(every_min);
      by_hand(car_.fluid_c);
    }
  }

  std::optional<CoolDown> plan_;
  Car car_;
  TimePoint now_ = at_micros(1700000000000000);
  std::vector<Event> events_;
  std::vector<ForecastEvent> forecasts_;
  std::vector<std::string> cues_;
};

TEST_F(CoolDownTest, AfterThreeReadingsTheForecastIsWithinAQuarterAndTheRangeHoldsTheTruth) {
  int runs = 0;
  int close = 0;
  int held = 0;
  for (const bool fan : {false, true}) {
    for (const double minutes : {fan ? 40.0 : 100.0, fan ? 50.0 : 130.0, fan ? 60.0 : 170.0}) {
      for (const double around : {10.0, 15.0, 20.0, 25.0}) {
        for (const double engine : {80.0, 90.0}) {
          use(CoolDown::Target{{30}, {}, true});
          car_ = Car{80, engine, around, minutes, engine > 80 ? 90 : 1e12};
          plan_->on_asked(fan ? Air::fan : Air::still, around);
          forecasts_.clear();
          three_by_hand(10);
          ASSERT_EQ(forecasts_.size(), 1U);
          const double truth_s = 60 * car_.minutes_until(30);
          const auto& [low, likely, high] = forecasts_.back().ready_in_s;
          ASSERT_TRUE(low && likely);
          ++runs;
          close += std::abs(*likely - truth_s) <= 0.25 * truth_s;
          held += *low <= truth_s && (!high || *high >= truth_s);
        }
      }
    }
  }
  EXPECT_GE(close, runs * 9 / 10) << "of " << runs;
  EXPECT_GE(held, runs * 8 / 10) << "of " << runs;
}

TEST_F(CoolDownTest, TheRangeGetsNarrowerWithEachReading) {
  plan_->on_asked(Air::still, 20.0);
  three_by_hand(10);
  wait(10);
  by_hand(car_.fluid_c);
  wait(10);
  by_hand(car_.fluid_c);
  ASSERT_EQ(forecasts_.size(), 3U);
  const auto width = [](const ForecastEvent& f) { return *f.ready_in_s[2] - *f.ready_in_s[0]; };
  EXPECT_LT(width(forecasts_[1]), width(forecasts_[0]));
  EXPECT_LT(width(forecasts_[2]), width(forecasts_[1]));
}

TEST_F(CoolDownTest, NothingIsForetoldOfAFluidThatCoolsAsNoCarCan) {
  plan_->on_asked(Air::still, 20);
  for (const double value_c : {180, 140, 110, 88, 71, 58, 49, 42}) {
    by_hand(value_c);
    wait(1);
  }
  EXPECT_THAT(forecasts_, IsEmpty());
}

TEST_F(CoolDownTest, ItSaysWhatItAssumes) {
  plan_->on_asked({}, {});
  three_by_hand(10);
  EXPECT_THAT(forecasts_.back().assumes,
              testing::ElementsAre("still air, nobody said", "20 °C around the car, nobody said"));
  plan_->on_ambient(17);
  wait(10);
  by_hand(car_.fluid_c);
  EXPECT_THAT(forecasts_.back().assumes, Contains("17 °C around the car, as the vehicle says"));
  plan_->on_asked(Air::still, 18);
  update();
  EXPECT_THAT(forecasts_.back().assumes,
              testing::ElementsAre("still air", "18 °C around the car, as entered"));
}

TEST_F(CoolDownTest, AFanChangesTheCourseSoReadingsFromBeforeItDoNotCount) {
  plan_->on_asked({}, 20);
  three_by_hand(10);
  plan_->on_asked(Air::fan, {});
  wait(10);
  by_hand(car_.fluid_c);
  EXPECT_EQ(forecasts_.size(), 1U);
  wait(10);
  by_hand(car_.fluid_c);
  wait(10);
  by_hand(car_.fluid_c);
  ASSERT_EQ(forecasts_.size(), 2U);
  EXPECT_EQ(forecasts_.back().samples, 3U);
  EXPECT_THAT(forecasts_.back().assumes, Contains("a fan blows at it"));
}

TEST_F(CoolDownTest, InAirThatIsAsWarmAsTheLimitItMayNeverBeReady) {
  car_.around_c = 32;
  plan_->on_asked({}, 32);
  three_by_hand(10);
  ASSERT_FALSE(forecasts_.empty());
  EXPECT_FALSE(forecasts_.back().ready_in_s[1]);
  EXPECT_FALSE(forecasts_.back().ready_in_s[2]);
}

TEST_F(CoolDownTest, NothingIsSaidBeforeItFalls) {
  plan_->on_asked({}, {});
  for (int i = 0; i < 5; ++i) {
    by_hand(80 + i);  // an engine that is hotter warms it on
    wait(5);
  }
  EXPECT_THAT(forecasts_, IsEmpty());
  car_.fluid_c = 84;
  for (int i = 0; i < 3; ++i) {
    wait(10);
    by_hand(car_.fluid_c);
  }
  ASSERT_FALSE(forecasts_.empty());
  EXPECT_EQ(forecasts_.back().samples, 4U) << "from the warmest reading on";
}

TEST_F(CoolDownTest, BeginsByItselfWhenTheEngineStopsAndEndsWhenItRuns) {
  plan_->on_engine(false);
  three_by_hand(10);
  EXPECT_THAT(forecasts_, IsEmpty()) << "an engine that has not run yet is no cool-down";
  plan_->on_engine(true);
  plan_->on_engine(false);
  car_.fluid_c = 80;
  three_by_hand(10);
  EXPECT_EQ(forecasts_.size(), 1U);
  plan_->on_engine(true);
  wait(10);
  by_hand(car_.fluid_c);
  EXPECT_EQ(forecasts_.size(), 1U);
}

TEST_F(CoolDownTest, ReadingsOfAUnitAreTakenEveryTwoMinutesAndTheForecastIsNotRepeatedAllTheTime) {
  plan_->on_engine(true);
  plan_->on_engine(false);
  for (int i = 0; i < 10 * 120; ++i) {
    wait(0.1);
    plan_->on_fluid(now_, std::round(car_.fluid_c), 1);
    update();
  }
  ASSERT_FALSE(forecasts_.empty());
  EXPECT_LE(forecasts_.size(), 40U);
  EXPECT_LE(forecasts_.back().samples, 64U);
  const double truth_s = 60 * car_.minutes_until(30);
  EXPECT_NEAR(*forecasts_.back().ready_in_s[1], truth_s, 0.25 * truth_s);
}

TEST_F(CoolDownTest, TheCoolantMustBeColdEnoughToo) {
  use(CoolDown::Target{{30}, Celsius{50}, true});
  plan_->on_asked({}, 20);
  Car engine{95, 95, 20, 220, 1e12};
  car_.fluid_c = 45;  // the fluid alone would be ready much earlier
  for (int i = 0; i < 4; ++i) {
    plan_->on_coolant(now_, std::round(engine.fluid_c));
    by_hand(car_.fluid_c);
    wait(10);
    engine.wait(10);
  }
  ASSERT_FALSE(forecasts_.empty());
  const double truth_s = 60 * (engine.minutes_until(50) + 10);
  EXPECT_NEAR(*forecasts_.back().ready_in_s[1], truth_s, 0.25 * truth_s);
  EXPECT_GT(truth_s, 1.5 * 60 * car_.minutes_until(30));
}

TEST_F(CoolDownTest, ACoolantThatNobodyReadsIsAssumed) {
  use(CoolDown::Target{{30}, Celsius{50}, true});
  plan_->on_asked({}, 20);
  three_by_hand(10);
  ASSERT_FALSE(forecasts_.empty());
  EXPECT_THAT(forecasts_.back().assumes, Contains("coolant will be below 50 °C by then, too"));
}

TEST_F(CoolDownTest, WhereFluidOrCoolantNeverGetsColdEnoughTheCarIsNeverReady) {
  for (const auto& [fluid_c, coolant_c] : std::vector<std::pair<double, double>>{{30, 70}, {70, 30}}) {
    use(CoolDown::Target{{fluid_c}, Celsius{coolant_c}, true});
    car_ = Car{90, 90, 45};
    plan_->on_asked({}, 45);
    forecasts_.clear();
    for (int i = 0; i < 4; ++i) {
      plan_->on_coolant(now_, std::round(car_.engine_c));
      by_hand(car_.fluid_c);
      wait(5);
    }
    ASSERT_FALSE(forecasts_.empty());
    EXPECT_EQ(forecasts_.back().ready_in_s, Quantiles{}) << fluid_c;
  }
}

TEST_F(CoolDownTest, ThatItIsNeverReadyIsSaidAtOnceAndNotRepeatedAllTheTime) {
  car_.around_c = 45;
  plan_->on_ambient(10);
  plan_->on_asked({}, {});
  three_by_hand(5);
  ASSERT_EQ(forecasts_.size(), 1U);
  ASSERT_TRUE(forecasts_.back().ready_in_s[1]);
  plan_->on_ambient(45);
  for (int i = 0; i < 4; ++i) {
    wait(2);
    plan_->on_fluid(now_, car_.fluid_c, 0.1);
    update();
  }
  ASSERT_EQ(forecasts_.size(), 2U);
  EXPECT_FALSE(forecasts_.back().ready_in_s[1]);
}

TEST_F(CoolDownTest, CallsOnceWhenItIsColdEnough) {
  plan_->on_asked({}, {});
  by_hand(35);
  wait(30);
  by_hand(29);
  wait(30);
  by_hand(27);
  ASSERT_EQ(cues_.size(), 1U);
  EXPECT_EQ(cues_[0], "cold enough to begin: fluid below 30 °C");
}

TEST_F(CoolDownTest, ACarThatWasColdFromTheBeginningIsNoNews) {
  plan_->on_asked({}, {});
  by_hand(22);
  wait(30);
  by_hand(21);
  EXPECT_THAT(cues_, IsEmpty());
  EXPECT_THAT(forecasts_, IsEmpty());
}

TEST_F(CoolDownTest, AddedFluidBeginsAnotherCourse) {
  plan_->on_asked({}, 20);
  three_by_hand(10);
  plan_->on_fluid_changed();
  wait(10);
  by_hand(45);
  wait(10);
  by_hand(43);
  EXPECT_EQ(forecasts_.size(), 1U);
}

TEST(CoolingCourse, SaysWhetherItTookASample) {
  CoolingCourse course;
  const TimePoint begin = at_micros(1700000000000000);
  EXPECT_TRUE(course.on_sample(begin, 80, 1, 2min));
  EXPECT_FALSE(course.on_sample(begin + 1min, 79, 1, 2min)) << "too soon behind the one before";
  EXPECT_FALSE(course.on_sample(begin + 1min, 81, 1, 2min)) << "also where it has become warmer";
  EXPECT_TRUE(course.on_sample(begin + 2min, 78, 1, 2min));
}

TEST(CoolDownTarget, IsTheStartLimitElseALittleBelowTheWindow) {
  const TemperatureWindow window{{35}, {45}};
  ServiceFile service;
  EXPECT_FALSE(CoolDown::target_of(std::nullopt, std::nullopt));
  const auto made = CoolDown::target_of(service, window);
  ASSERT_TRUE(made);
  EXPECT_EQ(made->fluid_c, Celsius{30});
  EXPECT_FALSE(made->from_service_file);
  service.start_limit = Sourced<Celsius>{{25}, Origin::invented, {}, 0};
  service.coolant_limit = Sourced<Celsius>{{50}, Origin::invented, {}, 0};
  const auto told = CoolDown::target_of(service, window);
  ASSERT_TRUE(told);
  EXPECT_EQ(told->fluid_c, Celsius{25});
  EXPECT_EQ(told->coolant_c, Celsius{50});
  EXPECT_TRUE(told->from_service_file);
}

TEST(CoolingCourse, OfManySamplesEverySecondIsKeptAndTheNextLieTwiceAsFarApart) {
  CoolingCourse course;
  TimePoint at = at_micros(1700000000000000);
  for (int i = 0; i < 64; ++i, at += 2min) EXPECT_TRUE(course.on_sample(at, 80 - i / 10.0, 1, 2min));
  EXPECT_EQ(course.samples(), 32U);
  EXPECT_FALSE(course.on_sample(at - 2min, 73, 1, 2min)) << "the last one that is left is two minutes back";
  EXPECT_TRUE(course.on_sample(at, 73, 1, 2min));
  EXPECT_FALSE(course.on_sample(at + 2min, 72.9, 1, 2min));
}

TEST_F(CoolDownTest, WithoutAStartLimitItSaysWhereItsTargetComesFrom) {
  use(CoolDown::Target{{30}, {}, false});
  plan_->on_asked(Air::still, 20.0);
  three_by_hand(10);
  ASSERT_FALSE(forecasts_.empty());
  EXPECT_THAT(forecasts_.back().assumes, Contains("begin 5 °C below the window: no start limit is known"));
}

TEST_F(CoolDownTest, WithoutATargetOrAReadingNothingIsSaid) {
  use(std::nullopt);
  plan_->on_asked(Air::still, 20.0);
  three_by_hand(10);
  EXPECT_THAT(forecasts_, IsEmpty());
  use(CoolDown::Target{{30}, {}, true});
  plan_->on_asked(Air::still, 20.0);
  update();
  EXPECT_THAT(forecasts_, IsEmpty());
  EXPECT_THAT(cues_, IsEmpty());
}

TEST_F(CoolDownTest, AReadingByHandThatComesTooSoonIsNoNews) {
  plan_->on_asked(Air::still, 20.0);
  three_by_hand(10);
  const std::size_t said = forecasts_.size();
  by_hand(car_.fluid_c);
  EXPECT_EQ(forecasts_.size(), said);
}

TEST_F(CoolDownTest, ACoolantThatNobodyReadIsNamedInTheCall) {
  use(CoolDown::Target{{30}, Celsius{50}, true});
  plan_->on_asked(Air::still, 20.0);
  by_hand(35);
  wait(30);
  by_hand(29);
  ASSERT_EQ(cues_.size(), 1U);
  EXPECT_EQ(cues_[0], "cold enough to begin: fluid below 30 °C, coolant (not read) must be below 50 °C");
}

TEST_F(CoolDownTest, WhereOnlyTheCoolantWasWarmItCallsToo) {
  use(CoolDown::Target{{30}, Celsius{50}, true});
  plan_->on_asked(Air::still, 20.0);
  plan_->on_coolant(now_, 60);
  by_hand(29);
  EXPECT_THAT(cues_, IsEmpty());
  wait(30);
  plan_->on_coolant(now_, 49);
  by_hand(28);
  ASSERT_EQ(cues_.size(), 1U);
  EXPECT_EQ(cues_[0], "cold enough to begin: fluid below 30 °C, coolant below 50 °C");
}

TEST_F(CoolDownTest, AColdCoolantFromTheBeginningIsNoNewsEither) {
  use(CoolDown::Target{{30}, Celsius{50}, true});
  plan_->on_asked(Air::still, 20.0);
  plan_->on_coolant(now_, 40);
  by_hand(29);
  EXPECT_THAT(cues_, IsEmpty());
}

}  // namespace
}  // namespace sumplog
