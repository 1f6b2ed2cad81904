#include <map>
#include <set>

#include "core/asker/live_vehicle.h"
#include "core/item/json_line.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

std::string hex(unsigned value) {
  const auto byte = static_cast<std::uint8_t>(value);
  return hex_text(&byte, 1);
}

/// Eight units, as many as ISO 15765-4 has identifiers for, each with a name, two calibrations and parameters of
/// its own. They answer at once, so their answers of several frames interleave.
Scenario eight_units(bool extended, double jitter_s = 0.01) {
  std::string text = "format = 1\ntitle = \"eight\"\nlasts_s = 3600\nvin = \"0TESTCAR0FAKE0001\"\n[bus]\n";
  if (extended) text += "identifiers = 29\n";
  text += "[vehicle]\nambient_c = 20\nfluid_c = 30\ncoolant_c = 40\nengine = \"running\"\n";
  for (unsigned i = 0; i < 8; ++i) {
    text += "[[ecu]]\nid = \"unit-" + std::to_string(i) + "\"\n";
    text += extended
                ? "request = 0x18DA" + hex(0x10 + i) + "F1\nresponse = 0x18DAF1" + hex(0x10 + i) + "\n"
                : "request = 0x7E" + std::to_string(i) + "\nresponse = 0x7E" + hex(8 + i).substr(1) + "\n";
    text += std::string("pids = [0x0C, 0x0D, ") + (i % 2 == 0 ? "0x42" : "0xA6") + "]\n";
    text += "answer_jitter_s = " + std::to_string(jitter_s) + "\n";
    if (i == 0) text += "tells_vin = true\n";
    text += "name = \"UN" + std::to_string(i) + "-Unit\"\n";
    text += "[[ecu.calibration]]\nid = \"CAL-" + std::to_string(i) + "-A\"\ncvn = 0x0000000" +
            std::to_string(i) + "\n";
    text += "[[ecu.calibration]]\nid = \"CAL-" + std::to_string(i) + "-B\"\ncvn = 0x1000000" +
            std::to_string(i) + "\n";
  }
  return scenario_from(text);
}

class EightUnits : public ::testing::TestWithParam<bool> {};

TEST_P(EightUnits, AllTellWhoTheyAre) {
  LiveVehicle car(eight_units(GetParam()), demo_opening());
  car.run_for(30s);
  std::map<std::string, VehicleEvent> known;
  for (const VehicleEvent& event : car.all<VehicleEvent>()) {
    VehicleEvent& unit = known[event.ecu];
    if (!event.vin.empty()) unit.vin = event.vin;
    if (!event.name.empty()) unit.name = event.name;
    if (!event.calibration_ids.empty()) unit.calibration_ids = event.calibration_ids;
    if (!event.cvn.empty()) unit.cvn = event.cvn;
    if (!event.pids.empty()) unit.pids = event.pids;
  }
  ASSERT_EQ(known.size(), 8U);
  int i = 0;
  for (const auto& [ecu, unit] : known) {
    const std::string n = std::to_string(i);
    EXPECT_EQ(ecu, GetParam() ? "18DAF11" + n : "7E" + hex(8U + static_cast<unsigned>(i)).substr(1));
    EXPECT_EQ(unit.vin, i == 0 ? "0TESTCAR0FAKE0001" : "");
    EXPECT_NE(unit.name.find("UN" + n), std::string::npos) << unit.name;
    EXPECT_EQ(unit.calibration_ids, (std::vector<std::string>{"CAL-" + n + "-A", "CAL-" + n + "-B"}));
    EXPECT_EQ(unit.cvn, (std::vector<std::string>{"0000000" + n, "1000000" + n}));
    EXPECT_NE(std::find(unit.pids.begin(), unit.pids.end(), "0D"), unit.pids.end());
    ++i;
  }
  // What the demo decoder asks of 7E1, and the first question with 11 bits, find nobody in the other car.
  for (const LossEvent& loss : car.all<LossEvent>())
    EXPECT_TRUE(loss.ecu.empty() || !known.contains(loss.ecu)) << journal_line(loss);
}

TEST_P(EightUnits, AreAskedForTheirNamesOnlyOnce) {
  LiveVehicle car(eight_units(GetParam()), demo_opening());
  car.run_for(60s);
  std::map<std::string, int> asked;
  for (const CanFrame& frame : car.sent())
    if (frame.bytes[1] == 0x09) ++asked[hex_text(frame.bytes.data() + 1, 2)];
  EXPECT_EQ(asked,
            (std::map<std::string, int>{{"0900", 1}, {"0902", 1}, {"0904", 1}, {"0906", 1}, {"090A", 1}}));
}

TEST_P(EightUnits, AreAllFoundByAScanThatThenEnds) {
  AskerSettings who;
  who.purpose = PlanPurpose::who;
  LiveVehicle car(eight_units(GetParam()), demo_opening(), who);
  for (int i = 0; i < 60 && !car.live().finished(); ++i) car.run_for(1s);
  EXPECT_TRUE(car.live().finished());
  std::set<std::string> names;
  std::set<std::string> pids;
  for (const VehicleEvent& event : car.all<VehicleEvent>()) {
    if (!event.name.empty()) names.insert(event.ecu);
    pids.insert(event.pids.begin(), event.pids.end());
  }
  EXPECT_EQ(names.size(), 8U);
  EXPECT_TRUE(pids.contains("A6")) << "all ranges are asked for";
  const TimePoint end = car.now();
  car.run_for(30s);
  EXPECT_TRUE(car.sent(end + 1ms).empty());
}

INSTANTIATE_TEST_SUITE_P(Identifiers, EightUnits, ::testing::Bool(),
                         [](const auto& one) { return one.param ? "TwentyNineBits" : "ElevenBits"; });

TEST(WhoIsThere, AUnitWhoseFirstAnswerWasLostIsGreetedAgain) {
  // The transmission is silent when everybody is asked for the first time, and speaks after two seconds.
  std::string text = R"(format = 1
title = "late"
lasts_s = 600
[bus]
[vehicle]
ambient_c = 20
fluid_c = 30
coolant_c = 40
engine = "running"
[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
pids = [0x0C]
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x0D, 0x42]
[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
[[event]]
at_s = 0
what = "ecu_silent"
ecu = "transmission"
[[event]]
at_s = 2
what = "ecu_speaks"
ecu = "transmission"
)";
  LiveVehicle car(scenario_from(text), demo_opening());
  car.run_for(30s);
  EXPECT_GT(car.readings("module_voltage"), 0U) << "only the late unit has it";
}

}  // namespace
}  // namespace sumplog::testing
