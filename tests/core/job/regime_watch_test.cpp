#include "core/job/regime_watch.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class RegimeWatchTest : public ::testing::Test {
 protected:
  std::optional<Announcement> reading(const std::string& signal, std::optional<double> value,
                                      const std::string& label = "", const std::string& ecu = "7E8") {
    now_ += 1s;
    ReadingEvent r;
    r.at = now_;
    r.signal = signal;
    r.value = value;
    r.label = label;
    r.ecu = ecu;
    r.quality = quality_;
    return watch_.on_reading(r);
  }
  RegimeWatch watch_;
  Quality quality_ = Quality::measured;
  TimePoint now_ = at_micros(1700000000000000);
};

TEST_F(RegimeWatchTest, SeesTheEngineStartAndStop) {
  EXPECT_FALSE(reading("engine_speed", 0)) << "how it was before is not known";
  EXPECT_FALSE(reading("engine_speed", 200)) << "cranking";
  EXPECT_EQ(reading("engine_speed", 700), Announcement::engine_started);
  EXPECT_FALSE(reading("engine_speed", 1500));
  EXPECT_FALSE(reading("engine_speed", std::nullopt));
  EXPECT_EQ(reading("engine_speed", 0), Announcement::engine_stopped);
}

TEST_F(RegimeWatchTest, SeesTheSelectorMove) {
  EXPECT_FALSE(reading("selector_position", 0, "P"));
  EXPECT_FALSE(reading("selector_position", 0, "P"));
  EXPECT_EQ(reading("selector_position", 1, "R"), Announcement::selector_moved);
}

TEST_F(RegimeWatchTest, SeesTheVehicleDriveOff) {
  std::optional<Announcement> said;
  for (int i = 0; i < 10; ++i)
    if (const auto what = reading("vehicle_speed", 30)) said = what;
  EXPECT_EQ(said, Announcement::vehicle_drove_off);
}

TEST_F(RegimeWatchTest, DoesNotMixTwoUnitsNorHearOtherSignals) {
  reading("engine_speed", 700);
  EXPECT_FALSE(reading("engine_speed", 0, "", "7E9"));
  EXPECT_FALSE(reading("coolant_temperature", 40));
}

TEST_F(RegimeWatchTest, AValueThatTheUnitItselfDoubtsIsNoChange) {
  reading("engine_speed", 700);
  quality_ = Quality::suspect;
  EXPECT_FALSE(reading("engine_speed", 0));
  quality_ = Quality::measured;
  EXPECT_EQ(reading("engine_speed", 0), Announcement::engine_stopped);
}

}  // namespace
}  // namespace sumplog
