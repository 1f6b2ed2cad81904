#include "core/job/signal_sources.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

class SignalSourcesTest : public ::testing::Test {
 protected:
  SignalSources sources;

  bool admits(const std::string& signal, const std::string& ecu, std::optional<double> value = 20,
              const std::string& bus = "can0") {
    ReadingEvent reading;
    reading.bus = BusName(bus);
    reading.signal = signal;
    reading.ecu = ecu;
    reading.value = value;
    return sources.admits(reading);
  }
};

TEST_F(SignalSourcesTest, TheFirstUnitStaysTheSourceOfItsSignal) {
  EXPECT_TRUE(admits("coolant_temperature", "7E8"));
  EXPECT_FALSE(admits("coolant_temperature", "7E9"));
  EXPECT_TRUE(admits("coolant_temperature", "7E8"));
  EXPECT_TRUE(admits("fluid_temperature", "7E9")) << "each signal has its own";
  EXPECT_FALSE(admits("fluid_temperature", "7E8"));
  ASSERT_NE(sources.of("fluid_temperature"), nullptr);
  EXPECT_EQ(sources.of("fluid_temperature")->second, "7E9");
}

TEST_F(SignalSourcesTest, TheSameIdentifierOnAnotherBusIsAnotherUnit) {
  EXPECT_TRUE(admits("engine_speed", "7E8", 700, "can0"));
  EXPECT_FALSE(admits("engine_speed", "7E8", 700, "can1"));
  EXPECT_EQ(sources.of("engine_speed")->first, BusName("can0"));
}

TEST_F(SignalSourcesTest, AUnitWithoutAValueIsNoSource) {
  EXPECT_FALSE(admits("engine_speed", "7E8", std::nullopt));
  EXPECT_EQ(sources.of("engine_speed"), nullptr);
  EXPECT_TRUE(admits("engine_speed", "7E9"));
  EXPECT_TRUE(admits("engine_speed", "7E9", std::nullopt)) << "the source may have no value for once";
}

}  // namespace
}  // namespace sumplog
