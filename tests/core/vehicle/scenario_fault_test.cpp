#include <gtest/gtest.h>

#include "core/vehicle/demo_vehicle.h"
#include "core/vehicle/fault_memory_words.h"
#include "core/vehicle/scenario.h"

namespace sumplog {
namespace {

using testing_vehicle::kJ1979;
using testing_vehicle::with_memory;

struct Wrong {
  const char* name;
  const char* text;
  const char* error;
};
class FaultMistake : public ::testing::TestWithParam<Wrong> {};

TEST_P(FaultMistake, IsRefusedWithItsLine) {
  const auto scenario = parse_scenario(with_memory(kJ1979, GetParam().text), "s");
  ASSERT_FALSE(scenario);
  EXPECT_EQ(scenario.error().text(), GetParam().error);
}
INSTANTIATE_TEST_SUITE_P(
    Listed, FaultMistake,
    ::testing::Values(
        Wrong{"NoCode", "[[ecu.code]]\nstored = true\n", "s:16: missing key 'code'"},
        Wrong{"BadCode", "[[ecu.code]]\ncode = \"P071\"\n",
              "s:17: 'P071' is no fault code; write it like P0711 or P0711-1F"},
        Wrong{"CodeTwice", "[[ecu.code]]\ncode = \"P0711\"\n[[ecu.code]]\ncode = \"P0711-00\"\n",
              "s:19: P0711-00 stands twice"},
        Wrong{"StatusTwice", "[[ecu.code]]\ncode = \"P0711\"\nstatus = 8\nstored = true\n",
              "s:18: 'status' says already whether the code is stored and pending"},
        Wrong{"StatusAndPending", "[[ecu.code]]\ncode = \"P0711\"\nstatus = 8\npending = true\n",
              "s:18: 'status' says already whether the code is stored and pending"},
        Wrong{"FrameValueTwice",
              "[[ecu.code]]\ncode = \"P0711\"\nfreeze_frame = [{ pid = 5 }, { pid = 5 }]\n",
              "s:18: this parameter cannot stand here; each one once, and neither 02 nor a bitmap: they "
              "follow from the others"},
        Wrong{"FrameWithABitmap",
              "[[ecu.code]]\ncode = \"P0711\"\nfreeze_frame = [{ pid = 0x20, hex = \"00000001\" }]\n",
              "s:18: this parameter cannot stand here; each one once, and neither 02 nor a bitmap: they "
              "follow from the others"},
        Wrong{"EventOfNoCode",
              "[[ecu.code]]\ncode = \"P0711\"\n[[event]]\nat_s = 1\nwhat = \"code_goes\"\necu = "
              "\"transmission\"\ncode = \"oil\"\n",
              "s:22: the ecu has no code 'oil'; list it as a [[ecu.code]], with 'there = false'"},
        Wrong{"EventOfAnotherKindOfFailure",
              "[[ecu.code]]\ncode = \"P0711-1F\"\n[[event]]\nat_s = 1\nwhat = \"code_goes\"\necu = "
              "\"transmission\"\ncode = \"P0711\"\n",
              "s:22: the ecu has no code 'P0711'; list it as a [[ecu.code]], with 'there = false'"},
        Wrong{"EventOfACodeOfNobody",
              "[[ecu.code]]\ncode = \"P0711\"\n[[event]]\nat_s = 1\nwhat = \"code_goes\"\necu = "
              "\"brakes\"\ncode = \"P0711\"\n",
              "s:21: 'ecu' is 'brakes'; known: transmission"},
        Wrong{"StatusOfNineBits", "[[ecu.code]]\ncode = \"P0711\"\nstatus = 0x1FF\n",
              "s:18: 'status' is 0x1FF, outside 0x0…0xFF"},
        Wrong{"FrameOfAnUnknownParameter",
              "[[ecu.code]]\ncode = \"P0711\"\nfreeze_frame = [{ pid = 0x10 }]\n",
              "s:18: the simulated vehicle does not have this parameter; give its bytes as 'hex'"},
        Wrong{"FrameWithItsCode",
              "[[ecu.code]]\ncode = \"P0711\"\nfreeze_frame = [{ pid = 2, hex = \"0711\" }]\n",
              "s:18: this parameter cannot stand here; each one once, and neither 02 nor a bitmap: they "
              "follow from the "
              "others"},
        Wrong{"RecordTwice",
              "[[ecu.code]]\ncode = \"P0711\"\nsnapshot = [{ record = 1, hex = \"00\" }, { record = 1, hex = "
              "\"00\" }]\n",
              "s:18: this record stands twice"},
        Wrong{"RecordOfAll", "[[ecu.code]]\ncode = \"P0711\"\nextended = [{ record = 0xFF, hex = \"00\" }]\n",
              "s:18: 'record' is 0xFF, outside 0x0…0xFE"},
        Wrong{"EventOfAnUnknownCode",
              "[[event]]\nat_s = 1\nwhat = \"code_sets\"\necu = \"transmission\"\ncode = \"P0711\"\n",
              "s:20: the ecu has no code 'P0711'; list it as a [[ecu.code]], with 'there = false'"},
        Wrong{
            "EventWithoutAnEcu",
            "[[ecu.code]]\ncode = \"P0711\"\n[[event]]\nat_s = 1\nwhat = \"code_goes\"\ncode = \"P0711\"\n",
            "s:21: there is no code 'P0711' in [[j1939.code]]; name its ecu, or write it like SPN 177 FMI 3"},
        Wrong{"EventWithAForeignKey", "[[event]]\nat_s = 1\nwhat = \"codes_cleared\"\ncode = \"P0711\"\n",
              "s:19: unknown key 'code'; known here: at_s, what, ecu"}),
    [](const auto& wrong) { return std::string{wrong.param.name}; });

TEST(FaultMistake, MonitorsAreThreeBytes) {
  const auto scenario = parse_scenario(with_memory("services = [\"J1979\"]\nmonitors = \"07 65\"", ""), "s");
  ASSERT_FALSE(scenario);
  EXPECT_EQ(scenario.error().text(), "s:16: 'monitors' has 2 bytes, outside 3…3");
}

TEST(FaultMistake, CodesWithoutAMemoryAreRefused) {
  const auto scenario =
      parse_scenario(testing_vehicle::scenario_text("[[ecu.code]]\ncode = \"P0711\"\nstored = true\n"), "s");
  ASSERT_FALSE(scenario);
  EXPECT_EQ(scenario.error().what, "the ecu has codes and no [ecu.memory]");
}

TEST(FaultMistake, ServicesOfNoFamilyAreRefused) {
  const auto scenario = parse_scenario(with_memory("services = [\"J1979\", \"KWP\"]", ""), "s");
  ASSERT_FALSE(scenario);
  EXPECT_EQ(scenario.error().text(), "s:15: 'services' holds 'KWP'; known: J1979, ISO 14229");
}

}  // namespace
}  // namespace sumplog
