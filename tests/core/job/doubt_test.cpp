#include "core/job/doubt.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <functional>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

/// A warm-up in steps of a second, every figure invented: coolant and fluid as functions of the time.
class DoubtTest : public ::testing::Test {
 protected:
  Doubt doubt;
  TimePoint now = at_micros(1'700'000'000'000'000);

  void read(const std::string& signal, double value, const std::string& ecu = "7E8") {
    ReadingEvent reading;
    reading.at = now;
    reading.ecu = ecu;
    reading.signal = signal;
    reading.value = value;
    doubt.on_reading(reading);
  }
  /// out  the first doubt, if there was one
  std::string run(Duration duration, const std::function<double(double)>& coolant,
                  const std::function<double(double)>& fluid, double rpm = 700, double air_c = 20) {
    std::string first;
    for (Duration t{}; t < duration; t += 1s) {
      const double s = static_cast<double>(t / 1s);
      read("engine_speed", rpm);
      read("vehicle_speed", 0);
      read("intake_air_temperature", air_c);
      read("coolant_temperature", std::round(coolant(s)));
      read("fluid_temperature", std::round(fluid(s)));
      if (first.empty()) first = doubt.why();
      now += 1s;
    }
    return first;
  }
};

double warming(double s) {
  return 20 + 70 * s / (s + 300);
}

TEST_F(DoubtTest, BelievesAFluidThatWarmsBehindTheCoolant) {
  EXPECT_THAT(run(1800s, warming, [](double s) { return 20 + s / 45; }), IsEmpty());
}

TEST_F(DoubtTest, BelievesASteadyFluidBesideASteadyCoolant) {
  EXPECT_THAT(run(
                  3600s, [](double) { return 88; }, [](double) { return 80; }),
              IsEmpty());
}

TEST_F(DoubtTest, BelievesASteadyFluidOfNoKnownSubstituteForSomeMinutes) {
  EXPECT_THAT(run(500s, warming, [](double) { return 22; }), IsEmpty());
}

TEST_F(DoubtTest, DoubtsEightyDegreesThatDoNotMoveWhileTheCoolantDoes) {
  run(
      60s, [](double) { return 60; }, [](double s) { return 40 + s / 30; });
  EXPECT_THAT(run(
                  600s, [](double s) { return 60 + s / 20; }, [](double) { return 80; }),
              HasSubstr("stays at 80 °C while the coolant moves"));
}

TEST_F(DoubtTest, DoubtsTheAirTemperatureOfTheStart) {
  EXPECT_THAT(run(
                  600s, [](double s) { return 60 + s / 20; }, [](double) { return 31; }, 700, 31),
              HasSubstr("perhaps a substitute value"));
}

TEST_F(DoubtTest, DoubtsAnyValueThatStaysForTenMinutesWhileTheCoolantMovesFar) {
  EXPECT_THAT(run(
                  1200s, [](double s) { return 50 + s / 30; }, [](double) { return 47; }),
              HasSubstr("has stayed at 47 °C for 10 min"));
}

TEST_F(DoubtTest, DoubtsACopyOfTheCoolant) {
  EXPECT_THAT(run(
                  600s, [](double s) { return 50 + s / 20; }, [](double s) { return 50 + s / 20; }),
              HasSubstr("equals the coolant"));
}

TEST_F(DoubtTest, DoubtsTheCoolantPlusTen) {
  EXPECT_THAT(run(
                  900s, [](double s) { return 50 + s / 20; }, [](double s) { return 60 + s / 20; }),
              HasSubstr("keeps 10 °C from the coolant"));
}

TEST_F(DoubtTest, BelievesTwoThatRiseSideBySideForAWhile) {
  EXPECT_THAT(run(
                  170s, [](double s) { return 50 + s / 20; }, [](double s) { return 60 + s / 20; }),
              IsEmpty());
  EXPECT_THAT(run(
                  600s, [](double s) { return 58 + s / 60; }, [](double s) { return 68 + s / 25; }),
              IsEmpty());
}

TEST_F(DoubtTest, FindsAWrongOffsetOnAColdEngine) {
  EXPECT_THAT(run(
                  10s, [](double) { return 19; }, [](double) { return 29; }, 0),
              HasSubstr("as if the offset were wrong by 10 °C"));
}

TEST_F(DoubtTest, FindsFahrenheitTakenForCelsiusOnAColdEngine) {
  EXPECT_THAT(run(
                  10s, [](double) { return 20; }, [](double) { return 68; }, 0),
              HasSubstr("°F were taken for °C"));
}

TEST_F(DoubtTest, ASecondThermometerThatAgreesSettlesIt) {
  run(
      10s, [](double) { return 19; }, [](double) { return 29; }, 0);
  doubt.on_compared(now, 40, 29);
  EXPECT_FALSE(doubt.why().empty()) << "one that does not agree settles nothing";
  doubt.on_compared(now, 28, 29);
  EXPECT_THAT(doubt.why(), IsEmpty());
  EXPECT_THAT(run(
                  10s, [](double) { return 19; }, [](double) { return 29; }, 0),
              IsEmpty())
      << "the same cold engine raises it no more";
}

TEST_F(DoubtTest, WhatWasSettledColdIsComparedAnewAfterAGap) {
  const auto cold = [&] {
    return run(
        10s, [](double) { return 19; }, [](double) { return 29; }, 0);
  };
  cold();
  doubt.on_compared(now, 28, 29);
  doubt.on_gap();
  EXPECT_THAT(cold(), HasSubstr("does not fit a cold engine"));
}

TEST_F(DoubtTest, WhatWasSettledIsDoubtedAgainWhenTheCoolantMovesOn) {
  const auto stays = [](double) { return 80; };
  ASSERT_THAT(run(
                  100s, [](double s) { return 60 + s / 10; }, stays),
              Not(IsEmpty()));
  doubt.on_compared(now, 78, 80);
  EXPECT_THAT(doubt.why(), IsEmpty());
  EXPECT_THAT(run(
                  59s, [](double s) { return 70 - s / 10; }, stays),
              IsEmpty());
  EXPECT_THAT(run(
                  10s, [](double s) { return 64 - s / 10; }, stays),
              HasSubstr("stays at 80"));
}

TEST_F(DoubtTest, ASecondThermometerSettlesNothingThatBeganAfterItWasRead) {
  const TimePoint before = now - 1s;
  ASSERT_THAT(run(
                  100s, [](double s) { return 60 + s / 10; }, [](double) { return 80; }),
              Not(IsEmpty()));
  doubt.on_compared(before, 78, 80);
  EXPECT_THAT(doubt.why(), HasSubstr("stays at 80"));

  doubt = Doubt{};
  const TimePoint then = now - 1s;
  ASSERT_THAT(run(
                  300s, [](double s) { return 50 + s / 20; }, [](double s) { return 50 + s / 20; }),
              Not(IsEmpty()));
  doubt.on_compared(then, 50, 50);
  EXPECT_THAT(doubt.why(), HasSubstr("equals the coolant"));
}

TEST_F(DoubtTest, AFallThatASecondThermometerAgreesWithIsNotDoubtedForAMinute) {
  const auto coolant = [](double s) { return 60 + s / 30; };
  const auto fluid = [](double s) { return 50 - s / 15; };
  ASSERT_THAT(run(100s, coolant, fluid), HasSubstr("falls while"));
  doubt.on_compared(now, 43, 43);
  EXPECT_THAT(doubt.why(), IsEmpty());
  EXPECT_THAT(run(
                  55s, [&](double s) { return coolant(s + 100); }, [&](double s) { return fluid(s + 100); }),
              IsEmpty());
}

TEST_F(DoubtTest, DoubtsWhatOnlyABrokenWireGives) {
  // Common practice, no source: an open circuit reads far below zero, a short one far above boiling.
  for (const double broken_c : {-39.0, 160.0}) {
    doubt = Doubt{};
    EXPECT_THAT(run(
                    90s, [](double s) { return 60 + s / 10; }, [&](double) { return broken_c; }),
                HasSubstr("perhaps a substitute value"))
        << broken_c;
  }
}

TEST_F(DoubtTest, ThatItOnlyStaysThereIsNoDoubtWithinAFewMinutes) {
  // The ends of what only a broken wire gives, and how far the coolant moves before it counts: ours.
  const auto stays = [&](double fluid_c, double coolant_rise_c) {
    doubt = Doubt{};
    return run(
        500s, [&](double s) { return 60 + std::min(s / 10, coolant_rise_c); },
        [&](double) { return fluid_c; });
  };
  for (const double broken_c : {-35.0, 150.0, 80.0})
    EXPECT_THAT(stays(broken_c, 5), Not(IsEmpty())) << broken_c;
  for (const double whole_c : {-34.0, 149.0, 79.0}) EXPECT_THAT(stays(whole_c, 30), IsEmpty()) << whole_c;
  EXPECT_THAT(stays(80, 4), IsEmpty()) << "the coolant hardly moves";
}

TEST_F(DoubtTest, ACopyIsToldWhenTheCoolantMovedBySixDegreesAndADistanceByTen) {
  const auto copies = [&](double distance_c, double rise_c) {
    doubt = Doubt{};
    const auto coolant = [&](double s) { return 61 + std::min(s / 20, rise_c); };
    return run(900s, coolant, [&](double s) { return coolant(s) + distance_c; });
  };
  EXPECT_THAT(copies(0, 6), HasSubstr("equals the coolant"));
  EXPECT_THAT(copies(0, 5), IsEmpty());
  EXPECT_THAT(copies(10, 10), HasSubstr("keeps 10"));
  EXPECT_THAT(copies(10, 9), IsEmpty());
}

TEST_F(DoubtTest, TwoUnitsThatReadTheCoolantDifferentlyAreNoCoolantThatMoves) {
  for (int s = 0; s < 900; ++s, now += 1s) {
    read("coolant_temperature", 88, "7E8");
    read("coolant_temperature", 60, "7E9");
    read("fluid_temperature", 80, "7E9");
    ASSERT_THAT(doubt.why(), IsEmpty()) << s;
  }
}

TEST_F(DoubtTest, ASecondUnitHidesNoCopyOfTheCoolant) {
  std::string first;
  for (int s = 0; s < 600; ++s, now += 1s) {
    read("coolant_temperature", 50 + s / 20, "7E8");
    read("coolant_temperature", 30 + s % 7, "7E9");
    read("fluid_temperature", 50 + s / 20, "7E9");
    if (first.empty()) first = doubt.why();
  }
  EXPECT_THAT(first, HasSubstr("equals the coolant"));
}

TEST_F(DoubtTest, ASecondUnitDoesNotStopTheEngine) {
  // With the engine running for a while, fluid and coolant may differ; an engine speed of 0 is another unit's.
  for (int s = 0; s < 40; ++s, now += 1s) {
    read("engine_speed", 700, "7E8");
    read("engine_speed", 0, "7EA");
  }
  read("ambient_temperature", 20);
  read("coolant_temperature", 20);
  read("fluid_temperature", 35);
  EXPECT_THAT(doubt.why(), IsEmpty());
}

TEST_F(DoubtTest, WhatIsNotMeasuredRaisesNoDoubt) {
  for (int i = 0; i < 120; ++i, now += 1s) {
    read("coolant_temperature", 60 + i / 10.0);
    ReadingEvent doubtful;
    doubtful.at = now;
    doubtful.signal = "fluid_temperature";
    doubtful.quality = Quality::suspect;
    doubtful.value = 80;
    doubt.on_reading(doubtful);
    doubtful.quality = Quality::measured;
    doubtful.value.reset();
    doubt.on_reading(doubtful);
  }
  EXPECT_THAT(doubt.why(), IsEmpty());
}

TEST_F(DoubtTest, AfterHalfAMinuteOfEngineFluidAndCoolantMayDiffer) {
  read("ambient_temperature", 20);
  EXPECT_THAT(run(
                  60s, [](double) { return 20; }, [](double s) { return s < 40 ? 20 : 35; }),
              IsEmpty());
  doubt = Doubt{};
  read("ambient_temperature", 20);
  EXPECT_THAT(run(
                  10s, [](double) { return 20; }, [](double) { return 35; }),
              HasSubstr("does not fit a cold engine"));
}

TEST_F(DoubtTest, AfterHalfAMinuteTheyMayDifferAlsoWhereTheEngineWasReadOnce) {
  read("ambient_temperature", 20);
  read("coolant_temperature", 20);
  read("engine_speed", 700);
  now += 31s;
  read("fluid_temperature", 35);
  EXPECT_THAT(doubt.why(), IsEmpty());
}

TEST_F(DoubtTest, AWarmEngineIsNoColdSoak) {
  EXPECT_THAT(run(
                  10s, [](double) { return 80; }, [](double) { return 60; }, 0),
              IsEmpty());
  EXPECT_THAT(run(
                  100s, [](double) { return 24; }, [](double) { return 60; }, 700),
              Not(IsEmpty()));
}

TEST_F(DoubtTest, AfterAGapTheFluidIsNotHeldAgainstTheCoolantAndTheAirOfBefore) {
  const std::string coolant = "coolant_temperature";
  for (const std::string air : {"ambient_temperature", "intake_air_temperature"})
    for (const bool air_first : {false, true}) {
      doubt = Doubt{};
      // The evening: cold.
      for (const std::string& one : {air, coolant}) read(one, 20);
      read("fluid_temperature", 20);
      // The next day, warm: first the fluid is read, then the rest.
      doubt.on_gap();
      now += 12h;
      read("fluid_temperature", 38);
      EXPECT_THAT(doubt.why(), IsEmpty()) << air;
      read(air_first ? air : coolant, 20);
      read("fluid_temperature", 38);
      EXPECT_THAT(doubt.why(), IsEmpty()) << "the other one is of before";
      read(air_first ? coolant : air, 20);
      read("fluid_temperature", 38);
      EXPECT_THAT(doubt.why(), HasSubstr("does not fit a cold engine")) << air;
    }
}

TEST_F(DoubtTest, DoubtsAFluidThatFallsWhileTheEngineIdlesAndTheCoolantRises) {
  EXPECT_THAT(run(
                  300s, [](double s) { return 60 + s / 30; }, [](double s) { return 50 - s / 15; }),
              HasSubstr("is the sensor in the fluid?"));
}

TEST_F(DoubtTest, FluidThatWasAddedMayCoolIt) {
  doubt.on_fluid_changed(now);
  EXPECT_THAT(run(
                  200s, [](double s) { return 60 + s / 30; }, [](double s) { return 50 - s / 15; }),
              IsEmpty());
}

TEST_F(DoubtTest, AFallThatNoCoolantStoodBesideIsNoDoubt) {
  // The coolant is read only from the second minute on: how far it rose is not known.
  const auto idle = [&](double fluid_c) {
    read("engine_speed", 700);
    read("vehicle_speed", 0);
    read("fluid_temperature", fluid_c);
  };
  for (int s = 0; s < 65; ++s, now += 1s) idle(50 - s / 15.0);
  read("coolant_temperature", 80);
  idle(45);
  EXPECT_THAT(doubt.why(), IsEmpty());
}

}  // namespace
}  // namespace sumplog
