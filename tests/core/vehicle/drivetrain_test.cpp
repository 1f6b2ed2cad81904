#include "core/vehicle/drivetrain.h"

#include <gtest/gtest.h>

#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using std::chrono::seconds;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

const TimePoint kStart = at_micros(0);

Drivetrain idling() {
  return {scenario_of(scenario_text()), kStart};
}

TEST(Drivetrain, IdleSpeedIsHigherWhileTheEngineIsCold) {
  Scenario cold = scenario_of(scenario_text());
  cold.temperatures.coolant = {20};
  const Drivetrain start(cold, kStart);
  EXPECT_GT(start.value(Quantity::engine_speed), 900);
  EXPECT_NEAR(idling().value(Quantity::engine_speed), 700, 10);
}

TEST(Drivetrain, StoppedEngineTurnsAtZeroAndRunTimeStartsWithIt) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(EngineChange{false});
  EXPECT_EQ(drivetrain.value(Quantity::engine_speed), 0);
  EXPECT_EQ(drivetrain.value(Quantity::engine_run_time), 0);
  drivetrain.advance_to(kStart + seconds(30));
  drivetrain.apply(EngineChange{true});
  drivetrain.advance_to(kStart + seconds(40));
  EXPECT_DOUBLE_EQ(drivetrain.value(Quantity::engine_run_time), 10);
}

TEST(Drivetrain, HeldEngineSpeedStaysUntilIdle) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(EngineSpeedChange{1500});
  EXPECT_NEAR(drivetrain.value(Quantity::engine_speed), 1500, 10);
  drivetrain.apply(EngineSpeedChange{});
  EXPECT_NEAR(drivetrain.value(Quantity::engine_speed), 700, 10);
}

TEST(Drivetrain, DriveOnTheBrakeAndRaisedSpeedHeatTheFluidFasterThanPark) {
  const auto after_ten_minutes = [](const VehicleChange& change) {
    Scenario scenario = scenario_of(scenario_text());
    scenario.temperatures = {};
    Drivetrain drivetrain(scenario, kStart);
    drivetrain.apply(change);
    drivetrain.advance_to(kStart + std::chrono::minutes(10));
    return drivetrain.temperatures().fluid.value;
  };
  const double park = after_ten_minutes(SelectorChange{SelectorPosition::park});
  EXPECT_GT(after_ten_minutes(SelectorChange{SelectorPosition::drive}), park + 2);
  EXPECT_GT(after_ten_minutes(SelectorChange{SelectorPosition::reverse}), park + 2);
  EXPECT_GT(after_ten_minutes(EngineSpeedChange{1500}), park + 2);
  EXPECT_EQ(after_ten_minutes(SelectorChange{SelectorPosition::neutral}), park);
}

TEST(Drivetrain, FanCoolsFasterOnceTheEngineIsOff) {
  const auto after_an_hour = [](bool fan) {
    Scenario scenario = scenario_of(scenario_text());
    scenario.temperatures.housing = {36};
    Drivetrain drivetrain(scenario, kStart);
    drivetrain.apply(EngineChange{false});
    drivetrain.apply(FanChange{fan});
    drivetrain.advance_to(kStart + std::chrono::hours(1));
    return drivetrain.temperatures().fluid.value;
  };
  EXPECT_LT(after_an_hour(true), after_an_hour(false) - 3);
}

TEST(Drivetrain, DrivingCountsTheKilometres) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(VehicleSpeedChange{60});
  drivetrain.advance_to(kStart + std::chrono::minutes(3));
  EXPECT_NEAR(drivetrain.value(Quantity::odometer), 3, 1e-6);
}

TEST(Drivetrain, StuckSensorKeepsItsLastValueWhileTheFluidGoesOn) {
  Drivetrain drivetrain = idling();
  drivetrain.advance_to(kStart + seconds(60));
  const double before = drivetrain.value(Quantity::fluid_temperature);
  drivetrain.apply(SensorChange{SensorState::stuck, {}});
  drivetrain.advance_to(kStart + std::chrono::minutes(5));
  EXPECT_EQ(drivetrain.value(Quantity::fluid_temperature), before);
  EXPECT_LT(drivetrain.temperatures().fluid.value, before - 0.5);  // into a case of 20 °C
  drivetrain.apply(SensorChange{SensorState::works, {}});
  EXPECT_LT(drivetrain.value(Quantity::fluid_temperature), before - 0.5);
}

TEST(Drivetrain, ADeadSensorThatSticksHasNothingToShowButWhatItShowedBefore) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(SensorChange{SensorState::substitute, {80}});
  drivetrain.apply(SensorChange{SensorState::stuck, {}});
  EXPECT_EQ(drivetrain.value(Quantity::fluid_temperature), 80);
}

TEST(Drivetrain, AnEngineThatRunsIsNotStartedAgain) {
  Drivetrain drivetrain = idling();
  drivetrain.advance_to(kStart + seconds(30));
  drivetrain.apply(EngineChange{true});
  EXPECT_DOUBLE_EQ(drivetrain.value(Quantity::engine_run_time), 30);
}

TEST(Drivetrain, TheEngineIsLoadedInGearAndNotAtAllWhenItStands) {
  Drivetrain drivetrain = idling();
  const double park = drivetrain.value(Quantity::engine_load);
  drivetrain.apply(SelectorChange{SelectorPosition::neutral});
  EXPECT_EQ(drivetrain.value(Quantity::engine_load), park);
  drivetrain.apply(SelectorChange{SelectorPosition::reverse});
  EXPECT_GT(drivetrain.value(Quantity::engine_load), park);
  drivetrain.apply(EngineChange{false});
  EXPECT_EQ(drivetrain.value(Quantity::engine_load), 0);
}

TEST(Drivetrain, SubstituteStandsInPlaceOfTheReading) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(SensorChange{SensorState::substitute, {80}});
  EXPECT_EQ(drivetrain.value(Quantity::fluid_temperature), 80);
}

TEST(Drivetrain, FreshFluidDropsTheReading) {
  Drivetrain drivetrain = idling();
  drivetrain.apply(FluidDrained{4});
  drivetrain.apply(FluidAdded{4, {20}});
  EXPECT_NEAR(drivetrain.temperatures().fluid.value, (6 * 36 + 4 * 20) / 10.0, 1e-9);
}

TEST(Drivetrain, SensorNoiseStaysWithinItsBoundAndDependsOnTheTimeAlone) {
  Scenario noisy = scenario_of(scenario_text());
  noisy.sensor_noise = {0.4};
  Scenario quiet = scenario_of(scenario_text());
  Drivetrain a(noisy, kStart);
  Drivetrain b(quiet, kStart);
  Drivetrain late(noisy, kStart);
  double largest = 0;
  for (int i = 1; i <= 200; ++i) {
    a.advance_to(kStart + std::chrono::milliseconds(500 * i));
    b.advance_to(kStart + std::chrono::milliseconds(500 * i));
    const double noise = a.value(Quantity::fluid_temperature) - b.value(Quantity::fluid_temperature);
    EXPECT_LE(std::abs(noise), 0.4);
    largest = std::max(largest, std::abs(noise));
  }
  EXPECT_GT(largest, 0.3);
  late.advance_to(kStart + std::chrono::milliseconds(500 * 200));
  EXPECT_EQ(a.value(Quantity::fluid_temperature), late.value(Quantity::fluid_temperature));
}

TEST(Drivetrain, StateDependsOnTheTimeAndNotOnHowOftenItIsAsked) {
  Drivetrain often = idling();
  Drivetrain seldom = idling();
  for (int ms = 0; ms <= 120'000; ms += 13) often.advance_to(kStart + std::chrono::milliseconds(ms));
  often.advance_to(kStart + seconds(120));
  seldom.advance_to(kStart + seconds(120));
  EXPECT_EQ(often.temperatures().fluid, seldom.temperatures().fluid);
  EXPECT_EQ(often.temperatures().coolant, seldom.temperatures().coolant);
}

}  // namespace
}  // namespace sumplog
