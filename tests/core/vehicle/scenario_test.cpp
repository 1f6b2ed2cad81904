#include "core/vehicle/scenario.h"

#include <gtest/gtest.h>

#include "core/diagnostics/vin.h"
#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

const std::string kLeast = "format = 1\ntitle = \"t\"\nlasts_s = 60\n";

TEST(Scenario, WhatIsNotNamedHasSoakedInTheAmbientAir) {
  const Scenario scenario = scenario_of(kLeast + "[vehicle]\nambient_c = -7\n");
  EXPECT_EQ(scenario.temperatures.fluid, Celsius{-7});
  EXPECT_EQ(scenario.temperatures.coolant, Celsius{-7});
  EXPECT_EQ(scenario.temperatures.sensor, Celsius{-7});
  EXPECT_FALSE(scenario.engine_runs);
  EXPECT_EQ(scenario.bus, BusName("can0"));
}

TEST(Scenario, InventedVinHasAValidCheckDigit) {
  EXPECT_TRUE(vin_check_digit_holds(scenario_of(kLeast).vin));  // 49 CFR 565.15(c)
}

TEST(Scenario, EventsStandInTheOrderOfTheirTimesAndTiesAsInTheFile) {
  const Scenario scenario = scenario_of(kLeast + R"(
[[event]]
at_s = 9.5
what = "engine_off"
[[event]]
at_s = 2
what = "selector"
position = "D"
[[event]]
at_s = 2
what = "fan_on"
)");
  ASSERT_EQ(scenario.events.size(), 3U);
  EXPECT_EQ(scenario.events[0].at, seconds(2));
  const auto& first = std::get<VehicleChange>(scenario.events[0].change);
  EXPECT_EQ(std::get<SelectorChange>(first).position, SelectorPosition::drive);
  EXPECT_TRUE(std::holds_alternative<FanChange>(std::get<VehicleChange>(scenario.events[1].change)));
  EXPECT_EQ(scenario.events[2].at, milliseconds(9500));
}

TEST(Scenario, EveryWordOfAnEventIsKnown) {
  const Scenario scenario = scenario_of(kLeast + R"(
event = [
  { at_s = 1, what = "engine_on" }, { at_s = 1, what = "engine_off" }, { at_s = 1, what = "idle" },
  { at_s = 1, what = "selector", position = "R" }, { at_s = 1, what = "vehicle_speed", km_h = 30 },
  { at_s = 1, what = "engine_speed", rpm = 1500 }, { at_s = 1, what = "fan_on" }, { at_s = 1, what = "fan_off" },
  { at_s = 1, what = "fluid_added", litres = 1, fluid_c = 20 }, { at_s = 1, what = "fluid_drained", litres = 4 },
  { at_s = 1, what = "sensor_works" }, { at_s = 1, what = "sensor_dead" }, { at_s = 1, what = "sensor_stuck" },
  { at_s = 1, what = "sensor_substitute", shown_c = 80 }, { at_s = 1, what = "ecu_silent", ecu = "engine" },
  { at_s = 1, what = "ecu_speaks", ecu = "engine" }, { at_s = 1, what = "ecu_resets", ecu = "engine", takes_s = 1 },
  { at_s = 1, what = "answers_pending", ecu = "engine", service = 9, times = 1 },
  { at_s = 1, what = "loses_consecutive_frame", ecu = "engine", service = 9, index = 1 },
  { at_s = 1, what = "link_down" }, { at_s = 1, what = "link_gone" }, { at_s = 1, what = "link_up" },
  { at_s = 1, what = "clock_step", step_s = -60.5 },
]
[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
)");
  EXPECT_EQ(scenario.events.size(), 23U);
  const auto& last = std::get<TesterChange>(scenario.events.back().change);
  EXPECT_EQ(std::get<ClockChange>(last).step, -milliseconds(60500));
  EXPECT_EQ(std::get<UnitChange>(scenario.events[14].change).unit, 0U);
}

TEST(Scenario, AsksNameAUnitOrAll) {
  const Scenario scenario = scenario_of(scenario_text(R"(
[[ask]]
at_s = 1
payload = "22 1A 05"
ecu = "transmission"
every_s = 0.5
until_s = 9
[[ask]]
at_s = 2
payload = "010C"
[[ask]]
at_s = 3
group = 65260
)"));
  ASSERT_EQ(scenario.asks.size(), 3U);
  EXPECT_EQ(scenario.asks[0].unit, 1U);
  EXPECT_EQ(scenario.asks[0].every, milliseconds(500));
  EXPECT_EQ(scenario.asks[0].until, seconds(9));
  EXPECT_FALSE(scenario.asks[1].unit);
  EXPECT_EQ(scenario.asks[1].payload, (std::vector<std::uint8_t>{0x01, 0x0C}));
  EXPECT_EQ(scenario.asks[2].group, 65260U);
}

TEST(Scenario, OnlyUnusualAddressesAreNamed) {
  EXPECT_TRUE(scenario_of(scenario_text()).addresses().named().empty());
  const Scenario scenario = scenario_of(scenario_text(R"([[ecu]]
id = "third"
request = 0x6F1
response = 0x612
addressing = "extended"
request_address = 0x12
response_address = 0xF1
)"));
  ASSERT_EQ(scenario.addresses().named().size(), 1U);
}

TEST(Scenario, TwoUnitsMayShareARequestIdentifierWhereTheirAddressByteDiffers) {
  const auto with_address = [](const std::string& second) {
    return parse_scenario(
        kLeast +
            "[[ecu]]\nid = \"a\"\nrequest = 0x6F1\nresponse = 0x612\naddressing = \"extended\"\n"
            "request_address = 0x12\nresponse_address = 0xF1\n"
            "[[ecu]]\nid = \"b\"\nrequest = 0x6F1\naddressing = \"extended\"\n"
            "response_address = 0xF1\n" +
            second,
        "s");
  };
  EXPECT_TRUE(with_address("request_address = 0x18\nresponse = 0x618\n"));
  EXPECT_FALSE(with_address("request_address = 0x12\nresponse = 0x618\n")) << "both would hear it";
  EXPECT_FALSE(with_address("request_address = 0x18\nresponse = 0x612\n")) << "nobody could tell who speaks";
}

TEST(Scenario, TwoUnitsMayAnswerWithOneIdentifierWhereTheirAddressByteDiffers) {
  const auto with_address = [](const std::string& address) {
    return parse_scenario(
        kLeast +
            "[[ecu]]\nid = \"a\"\nrequest = 0x6F1\nresponse = 0x612\naddressing = \"extended\"\n"
            "request_address = 0x12\nresponse_address = 0xF1\n"
            "[[ecu]]\nid = \"b\"\nrequest = 0x6F1\nresponse = 0x612\naddressing = \"extended\"\n"
            "request_address = 0x18\nresponse_address = " +
            address,
        "s");
  };
  EXPECT_TRUE(with_address("0xF2\n"));
  EXPECT_FALSE(with_address("0xF1\n"));
}

TEST(Scenario, BytesMayBeWrittenInEitherCaseAndWithBlanks) {
  const Scenario scenario = scenario_of(scenario_text("[[ask]]\nat_s = 1\npayload = \"22 aB Cd9f\"\n"));
  EXPECT_EQ(scenario.asks.at(0).payload, (std::vector<std::uint8_t>{0x22, 0xAB, 0xCD, 0x9F}));
}

TEST(Scenario, AUnitHasSixteenCalibrationsAtMost) {
  std::string text = kLeast + "[[ecu]]\nid = \"e\"\nrequest = 0x7E0\nresponse = 0x7E8\n";
  for (int i = 0; i < 16; ++i) text += "[[ecu.calibration]]\nid = \"C" + std::to_string(i) + "\"\ncvn = 1\n";
  EXPECT_TRUE(parse_scenario(text, "s"));
  const auto more = parse_scenario(text + "[[ecu.calibration]]\nid = \"C\"\ncvn = 1\n", "s");
  ASSERT_FALSE(more);
  EXPECT_EQ(more.error().text(), "s:4: more than 16 calibrations");
}

struct Mistake {
  std::string name;
  std::string text;
  std::string error;  ///< how it begins
};
void PrintTo(const Mistake& mistake, std::ostream* out) {
  *out << mistake.name;
}

class ScenarioMistake : public testing::TestWithParam<Mistake> {};

TEST_P(ScenarioMistake, IsSaidWithFileAndLine) {
  const auto scenario = parse_scenario(GetParam().text, "x/scenario.toml");
  ASSERT_FALSE(scenario);
  EXPECT_EQ(scenario.error().text().substr(0, GetParam().error.size()), GetParam().error);
}

std::string with_unit(const std::string& keys) {
  return kLeast + "[[ecu]]\nid = \"e\"\nrequest = 0x7E0\nresponse = 0x7E8\n" + keys;
}
std::string with_did(const std::string& keys) {
  return with_unit("[[ecu.did]]\ndid = 1\n" + keys);
}
std::string with_event(const std::string& keys) {
  return with_unit("[[event]]\nat_s = 1\n" + keys);
}
std::string with_ask(const std::string& keys) {
  return with_unit("[[ask]]\nat_s = 1\n" + keys);
}

std::string name_of(const testing::TestParamInfo<Mistake>& one) {
  return one.param.name;
}

INSTANTIATE_TEST_SUITE_P(
    All, ScenarioMistake,
    testing::Values(
        Mistake{"no_toml", "format = = 1", "x/scenario.toml:1: "},
        Mistake{"no_format", "title = \"t\"\nlasts_s = 1\n", "x/scenario.toml:1: missing key 'format'"},
        Mistake{"later_format", "format = 2\n", "x/scenario.toml:1: 'format' is 2, outside 1…1"},
        Mistake{"no_title", "format = 1\nlasts_s = 1\n", "x/scenario.toml:1: missing key 'title'"},
        Mistake{"no_duration", "format = 1\ntitle = \"t\"\n", "x/scenario.toml:1: missing key 'lasts_s'"},
        Mistake{"unknown_key", kLeast + "sead = 4\n",
                "x/scenario.toml:4: unknown key 'sead'; did you mean 'seed'?"},
        Mistake{"vin_too_short", kLeast + "vin = \"SHORT\"\n", "x/scenario.toml:4: 'vin' must have 17"},
        Mistake{"bus_name", kLeast + "[bus]\nname = \"a name\"\n",
                "x/scenario.toml:5: 'name' must be an interface"},
        Mistake{"bus_name_long", kLeast + "[bus]\nname = \"a234567890123456\"\n",
                "x/scenario.toml:5: 'name' must be an interface"},
        Mistake{"same_request", with_unit("[[ecu]]\nid = \"f\"\nrequest = 0x7E0\nresponse = 0x7E9\n"),
                "x/scenario.toml:10: "},
        Mistake{"pid_text", with_unit("pids = [\"05\"]\n"), "x/scenario.toml:8: 'pids' holds something"},
        Mistake{"pid_negative", with_unit("pids = [-1]\n"), "x/scenario.toml:8: 'pids' holds something"},
        Mistake{"pid_of_two_bytes", with_unit("pids = [0x105]\n"),
                "x/scenario.toml:8: 'pids' holds something"},
        Mistake{"unit_name_long", with_unit("name = \"TCM-ANameOfSixteenCh\"\n"),
                "x/scenario.toml:8: 'name' must be an acronym"},
        Mistake{"unit_name_without_hyphen", with_unit("name = \"TRANSMISSION\"\n"),
                "x/scenario.toml:8: 'name' must be an acronym"},
        Mistake{"did_text_long", with_did("text = \"" + std::string(4093, 'x') + "\"\n"),
                "x/scenario.toml:10: 'text' is too long"},
        Mistake{"did_codes_text", with_did("signal = \"selector_position\"\ncodes = \"PRND\"\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_codes_of_texts",
                with_did("signal = \"selector_position\"\ncodes = [\"P\", \"R\", \"N\", \"D\"]\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_codes_negative", with_did("signal = \"selector_position\"\ncodes = [0, 1, 2, -3]\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_codes_large",
                with_did("signal = \"selector_position\"\ncodes = [0, 1, 2, 0x100000000]\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_codes_of_a_speed", with_did("signal = \"engine_speed\"\ncodes = [0, 1, 2, 3]\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_hex_letters", with_did("hex = \"0g\"\n"),
                "x/scenario.toml:10: 'hex' must be pairs of hex digits"},
        Mistake{"did_hex_sign", with_did("hex = \"0:\"\n"),
                "x/scenario.toml:10: 'hex' must be pairs of hex digits"},
        Mistake{"did_hex_signs", with_did("hex = \".-\"\n"),
                "x/scenario.toml:10: 'hex' must be pairs of hex digits"},
        Mistake{"did_hex_empty", with_did("hex = \"\"\n"), "x/scenario.toml:10: 'hex' is empty"},
        Mistake{"background_long_id",
                kLeast + "[[background]]\nid = 0x20000000\nextended = true\nperiod_s = 1\n",
                "x/scenario.toml:5: 'id' is 0x20000000, outside 0x0…0x1FFFFFFF"},
        Mistake{"identifiers", kLeast + "[bus]\nidentifiers = 12\n",
                "x/scenario.toml:5: 'identifiers' must be 11 or 29"},
        Mistake{"frames", kLeast + "[bus]\nframes = \"xl\"\n",
                "x/scenario.toml:5: 'frames' is 'xl'; known: classic, fd"},
        Mistake{"selector", kLeast + "[vehicle]\nselector = \"L\"\n",
                "x/scenario.toml:5: 'selector' is 'L'; known: P, R, N, D"},
        Mistake{"temperature", kLeast + "[vehicle]\nfluid_c = 900\n",
                "x/scenario.toml:5: 'fluid_c' is 900, outside -60…200"},
        Mistake{"heat_key", kLeast + "[heat]\nwarmer_w = 9\n", "x/scenario.toml:5: unknown key 'warmer_w'"},
        Mistake{"heat_negative", kLeast + "[heat]\nwarmer_w_per_k = -1\n",
                "x/scenario.toml:5: 'warmer_w_per_k' is -1, outside"},
        Mistake{"bypass", kLeast + "[heat]\nbypass_opens_c = 90\n",
                "x/scenario.toml:4: the bypass is fully open at or below"},
        Mistake{"thermostat", kLeast + "[heat]\nengine_thermostat_full_c = 80\n",
                "x/scenario.toml:5: the engine's thermostat"},
        Mistake{"unit_without_id", kLeast + "[[ecu]]\nrequest = 0x7E0\nresponse = 0x7E8\n",
                "x/scenario.toml:4: missing key 'id'"},
        Mistake{"unit_pair", kLeast + "[[ecu]]\nid = \"e\"\nrequest = 0x7E0\nresponse = 0x7E9\n",
                "x/scenario.toml:6: "},
        Mistake{"unit_id_long", kLeast + "[[ecu]]\nid = \"e\"\nrequest = 0x18DA10F1\nresponse = 0x7E8\n",
                "x/scenario.toml:6: 'request' is"},
        Mistake{"unit_twice", with_unit("[[ecu]]\nid = \"e\"\nrequest = 0x7E1\nresponse = 0x7E9\n"),
                "x/scenario.toml:9: the ecu id 'e' is used twice"},
        Mistake{"same_identifiers", with_unit("[[ecu]]\nid = \"f\"\nrequest = 0x7E0\nresponse = 0x7E8\n"),
                "x/scenario.toml:10: ecu 'f' has the same identifiers"},
        Mistake{"unknown_pid", with_unit("pids = [0x05, 0x99]\n"),
                "x/scenario.toml:8: 'pids' holds something"},
        Mistake{"bitmap_as_pid", with_unit("pids = [0x20]\n"), "x/scenario.toml:8: 'pids' holds something"},
        Mistake{"pid_twice", with_unit("pids = [5, 5]\n"),
                "x/scenario.toml:8: 'pids' names a parameter twice"},
        Mistake{"pids_no_list", with_unit("pids = 5\n"), "x/scenario.toml:8: 'pids' must be a list"},
        Mistake{"unit_name", with_unit("name = \"TRANS-x\"\n"),
                "x/scenario.toml:8: 'name' must be an acronym"},
        Mistake{"calibration_id", with_unit("[[ecu.calibration]]\nid = \"12345678901234567\"\ncvn = 1\n"),
                "x/scenario.toml:9: 'id' has more than 16"},
        Mistake{"did_without_record", with_did(""), "x/scenario.toml:8: a did has one of"},
        Mistake{"did_two_records", with_did("hex = \"00\"\ntext = \"a\"\n"),
                "x/scenario.toml:8: a did has one of"},
        Mistake{"did_hex", with_did("hex = \"0G\"\n"),
                "x/scenario.toml:10: 'hex' must be pairs of hex digits"},
        Mistake{"did_hex_odd", with_did("hex = \"0\"\n"),
                "x/scenario.toml:10: 'hex' must be pairs of hex digits"},
        Mistake{"did_signal", with_did("signal = \"fluid\"\n"),
                "x/scenario.toml:10: 'signal' is 'fluid'; known: fluid_temperature"},
        Mistake{"did_scale", with_did("signal = \"fluid_temperature\"\nscale = 0\n"),
                "x/scenario.toml:11: 'scale' is 0"},
        Mistake{"did_bytes", with_did("signal = \"fluid_temperature\"\nbytes = 5\n"),
                "x/scenario.toml:11: 'bytes' is 5"},
        Mistake{"did_no_value", with_did("signal = \"engine_speed\"\nno_value = 255\n"),
                "x/scenario.toml:11: only the fluid temperature"},
        Mistake{"did_codes", with_did("signal = \"selector_position\"\ncodes = [1, 2]\n"),
                "x/scenario.toml:11: 'codes' must be four numbers"},
        Mistake{"did_twice", with_did("hex = \"00\"\n[[ecu.did]]\ndid = 1\nhex = \"00\"\n"),
                "x/scenario.toml:12: this did stands twice"},
        Mistake{"event_without_what", with_event(""),
                "x/scenario.toml:8: missing key 'what'; known: engine_on"},
        Mistake{"event_word", with_event("what = \"explode\"\n"),
                "x/scenario.toml:10: 'what' is 'explode'; known: engine_on"},
        Mistake{"event_foreign_key", with_event("what = \"engine_on\"\nrpm = 900\n"),
                "x/scenario.toml:11: unknown key 'rpm'"},
        Mistake{"event_without_unit", with_event("what = \"ecu_silent\"\n"),
                "x/scenario.toml:8: missing key 'ecu'"},
        Mistake{"event_unknown_unit", with_event("what = \"ecu_silent\"\necu = \"brakes\"\n"),
                "x/scenario.toml:11: 'ecu' is 'brakes'; known: e"},
        Mistake{"event_after_the_end", with_unit("[[event]]\nat_s = 61\nwhat = \"engine_on\"\n"),
                "x/scenario.toml:9: the event comes after the end"},
        Mistake{"drained_too_much", with_event("what = \"fluid_drained\"\nlitres = 9.5\n"),
                "x/scenario.toml:8: the events drain more fluid than there is"},
        Mistake{"ask_nothing", with_ask(""), "x/scenario.toml:8: an ask has either a 'payload' or a 'group'"},
        Mistake{"ask_both", with_ask("group = 65260\npayload = \"01\"\n"),
                "x/scenario.toml:8: an ask has either"},
        Mistake{"ask_too_long", with_ask("payload = \"01 02 03 04 05 06 07 08\"\n"),
                "x/scenario.toml:10: 'payload' has 8 bytes, outside 1…7"},
        Mistake{"ask_until", with_ask("payload = \"01\"\nuntil_s = 3\n"),
                "x/scenario.toml:11: 'until_s' needs 'every_s'"},
        Mistake{"ask_group_of_unit", with_ask("group = 65260\necu = \"e\"\n"),
                "x/scenario.toml:11: a request for a group goes to all"},
        Mistake{"j1939_address", kLeast + "[j1939]\nengine_address = 3\n",
                "x/scenario.toml:4: engine and transmission have the same address"},
        Mistake{"j1939_period", kLeast + "[j1939]\ngears_s = 0\n",
                "x/scenario.toml:5: 'gears_s' is 0, outside 0.01…"},
        Mistake{"background_id", kLeast + "[[background]]\nid = 0x800\nperiod_s = 1\n",
                "x/scenario.toml:5: 'id' is 0x800, outside 0x0…0x7FF"}),
    name_of);

}  // namespace
}  // namespace sumplog
