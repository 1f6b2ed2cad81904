#include "core/vehicle/j1939_memory.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using testing::ElementsAre;
using testing_vehicle::Bench;
using testing_vehicle::bytes_of;

constexpr std::uint8_t kTransmission = 3;

J1939CodePlan code_of(std::uint32_t spn, std::uint8_t fmi, std::uint8_t count, bool old_conversion = false) {
  J1939CodePlan code;
  code.source = kTransmission;
  code.spn = spn;
  code.fmi = fmi;
  code.count = count;
  code.old_conversion = old_conversion;
  return code;
}

std::vector<std::uint8_t> active_of(std::vector<J1939CodePlan> codes) {
  return J1939Memory(codes).message(kActiveCodes, kTransmission);
}

TEST(DiagnosticMessage, HoldsTheBytesOfItsCodes) {
  // Layout of SAE J1939-73 as csdn 130193432 and docs.rs/j1939 diagnostic.rs have it; bytes computed from it.
  EXPECT_EQ(active_of({code_of(177, 3, 5)}), bytes_of("04 FF B1 00 03 05 FF FF"));
  EXPECT_EQ(active_of({code_of(126, 10, 2)}), bytes_of("04 FF 7E 00 0A 02 FF FF"));
  EXPECT_EQ(active_of({code_of(524287, 3, 1, true)}), bytes_of("04 FF FF FF E3 81 FF FF"));
  EXPECT_EQ(active_of({code_of(177, 0, 5, true)}), bytes_of("04 FF B1 00 00 85 FF FF"));
}

TEST(DiagnosticMessage, OfThreeCodesIsLongerThanAFrame) {
  EXPECT_EQ(active_of({code_of(177, 0, 5), code_of(126, 10, 2), code_of(524287, 3, 1, true)}),
            bytes_of("04 FF B1 00 00 05 7E 00 0A 02 FF FF E3 81"));
}

TEST(DiagnosticMessage, WithoutCodesSaysSoWithZeros) {
  // SAE J1939-73, from memory: SPN 0 and FMI 0 where there is no code, lamps off.
  EXPECT_EQ(active_of({}), bytes_of("00 FF 00 00 00 00 FF FF"));
}

TEST(DiagnosticMessage, LampsHaveTwoBitsEach) {
  // SAE J1939-73: bits 1-2 protect, 3-4 amber, 5-6 red, 7-8 malfunction indicator.
  std::vector<J1939CodePlan> codes;
  const auto lamps = [&codes](J1939Lamp lamp) {
    codes.push_back(code_of(177, static_cast<std::uint8_t>(codes.size()), 1));
    codes.back().lamp = lamp;
    return active_of(codes).front();
  };
  EXPECT_EQ(lamps(J1939Lamp::protect), 0x01);
  EXPECT_EQ(lamps(J1939Lamp::amber), 0x05);
  EXPECT_EQ(lamps(J1939Lamp::red), 0x15);
  EXPECT_EQ(lamps(J1939Lamp::malfunction), 0x55);
}

TEST(DiagnosticMessage, ACodeThatGoesIsPreviouslyActive) {
  J1939Memory memory({code_of(177, 3, 5)});
  EXPECT_EQ(memory.message(kPreviouslyActiveCodes, kTransmission), bytes_of("04 FF 00 00 00 00 FF FF"));
  memory.apply(J1939CodeChange{0, false});
  EXPECT_EQ(memory.message(kActiveCodes, kTransmission), bytes_of("00 FF 00 00 00 00 FF FF"));
  EXPECT_EQ(memory.message(kPreviouslyActiveCodes, kTransmission), bytes_of("00 FF B1 00 03 05 FF FF"));
  memory.apply(CodesCleared{});
  EXPECT_EQ(memory.message(kPreviouslyActiveCodes, kTransmission), bytes_of("00 FF 00 00 00 00 FF FF"));
  memory.apply(J1939CodeChange{0, false});
  EXPECT_EQ(memory.message(kPreviouslyActiveCodes, kTransmission), bytes_of("00 FF 00 00 00 00 FF FF"))
      << "what was not there has not been there before";
  memory.apply(J1939CodeChange{0, true});
  EXPECT_EQ(memory.message(kActiveCodes, kTransmission), bytes_of("04 FF B1 00 03 05 FF FF"));
}

std::string truck(const std::string& codes, const std::string& more = {}) {
  return "format = 1\ntitle = \"t\"\nlasts_s = 60\n[j1939]\nfault_codes_s = 1\n" + codes + more;
}

constexpr char kThree[] = R"(
[[j1939.code]]
from = "transmission"
spn = 177
fmi = 0
count = 5
[[j1939.code]]
from = "transmission"
spn = 126
fmi = 10
count = 2
[[j1939.code]]
from = "transmission"
spn = 524287
fmi = 3
old_conversion = true
)";

TEST(DiagnosticMessages, AreBroadcastOnceASecondByBothNodes) {
  Bench bench(
      truck("[[j1939.code]]\nfrom = \"transmission\"\nspn = 177\nfmi = 3\ncount = 5\nlamp = \"red\"\n"));
  bench.wait(std::chrono::milliseconds(2900));
  // DM1: priority 6, PGN FECA, SAE J1939-73.
  EXPECT_THAT(bench.heard(), ElementsAre("18FECA00#00FF00000000FFFF", "18FECA03#10FFB1000305FFFF",
                                         "18FECA00#00FF00000000FFFF", "18FECA03#10FFB1000305FFFF",
                                         "18FECA00#00FF00000000FFFF", "18FECA03#10FFB1000305FFFF"));
}

TEST(DiagnosticMessages, OfSeveralCodesAreAnnouncedAndSentInPackets) {
  Bench bench(truck(kThree));
  bench.wait(std::chrono::milliseconds(900));
  // TP.CM_BAM and TP.DT of SAE J1939-21, layout as @canboat/ts-pgns has it; 14 bytes in 2 packets.
  EXPECT_THAT(bench.heard(), ElementsAre("18FECA00#00FF00000000FFFF", "1CECFF03#200E0002FFCAFE00",
                                         "1CEBFF03#0104FFB10000057E", "1CEBFF03#02000A02FFFFE381"));
}

TEST(DiagnosticMessages, PreviouslyActiveOnesComeOnRequestFromAll) {
  Bench bench(
      truck("[[j1939.code]]\nfrom = \"transmission\"\nspn = 177\nfmi = 3\ncount = 5\nactive = false\n"
            "[[j1939.code]]\nfrom = \"engine\"\nspn = 110\nfmi = 4\n"));
  bench.wait(std::chrono::milliseconds(500));
  (void)bench.heard();
  bench.send(extended_id(0x18EAFFF9), "CB FE 00");
  bench.wait(std::chrono::milliseconds(100));
  EXPECT_THAT(bench.heard(),
              ElementsAre("18EAFFF9#CBFE00", "18FECB00#04FF00000000FFFF", "18FECB03#00FFB1000305FFFF"));
  bench.send(extended_id(0x18EA03F9), "CA FE 00");
  bench.wait(std::chrono::milliseconds(100));
  EXPECT_THAT(bench.heard(), ElementsAre("18EA03F9#CAFE00", "18FECA03#00FF00000000FFFF"));
}

TEST(DiagnosticMessages, FollowTheEventsOfTheScenario) {
  Bench bench(truck("[[j1939.code]]\nfrom = \"transmission\"\nspn = 177\nfmi = 3\nthere = false\n",
                    "[[event]]\nat_s = 1.5\nwhat = \"code_sets\"\ncode = \"SPN 177 FMI 3\"\n"
                    "[[event]]\nat_s = 2.5\nwhat = \"code_goes\"\ncode = \"SPN 177 FMI 3\"\n"
                    "[[event]]\nat_s = 3.5\nwhat = \"codes_cleared\"\n"));
  const auto transmission_says = [&bench] {
    bench.wait(std::chrono::seconds(1));
    std::vector<std::string> texts;
    for (const std::string& text : bench.heard())
      if (text.starts_with("18FECA03")) texts.push_back(text);
    return texts;
  };
  EXPECT_THAT(transmission_says(), ElementsAre("18FECA03#00FF00000000FFFF"));
  EXPECT_THAT(transmission_says(), ElementsAre("18FECA03#00FF00000000FFFF"));
  EXPECT_THAT(transmission_says(), ElementsAre("18FECA03#04FFB1000301FFFF"));
  EXPECT_THAT(transmission_says(), ElementsAre("18FECA03#00FF00000000FFFF"));
  bench.send(extended_id(0x18EA03F9), "CB FE 00");
  bench.wait(std::chrono::milliseconds(5));
  EXPECT_THAT(bench.heard(), ElementsAre("18EA03F9#CBFE00", "18FECB03#00FF00000000FFFF"))
      << "cleared elsewhere: previously active ones are gone too";
}

TEST(DiagnosticMessages, MistakesAreRefused) {
  const auto error = [](const std::string& text) {
    const auto scenario = parse_scenario(text, "s");
    return scenario ? std::string{} : scenario.error().text();
  };
  const std::string code = "[[j1939.code]]\nfrom = \"transmission\"\nspn = 177\nfmi = 3\n";
  EXPECT_EQ(error(truck(code + code)), "s:10: this code of this node stands twice");
  EXPECT_EQ(error(truck(code + "[[j1939.code]]\nfrom = \"transmission\"\nspn = 177\nfmi = 4\n" +
                        "[[j1939.code]]\nfrom = \"engine\"\nspn = 177\nfmi = 3\n")),
            "")
      << "another kind of failure, and another node";
  const std::string event = "[[event]]\nat_s = 1\nwhat = \"code_goes\"\ncode = ";
  EXPECT_EQ(error(truck(code, event + "\"SPN 177 FMI 4\"\n")),
            "s:13: there is no code 'SPN 177 FMI 4' in [[j1939.code]]; name its ecu, or write it like SPN "
            "177 FMI 3");
  EXPECT_EQ(error(truck(code, event + "\"SPN 178 FMI 3\"\n")).substr(0, 37),
            "s:13: there is no code 'SPN 178 FMI 3");
  EXPECT_EQ(error(truck(code, event + "\"P0711\"\n")).substr(0, 29), "s:13: there is no code 'P0711");
  EXPECT_EQ(error(truck(code, event + "\"what\"\n")).substr(0, 28), "s:13: there is no code 'what");
  EXPECT_EQ(error("format = 1\ntitle = \"t\"\nlasts_s = 60\n" + event + "\"SPN 177 FMI 3\"\n").substr(0, 36),
            "s:7: there is no code 'SPN 177 FMI 3");
  EXPECT_EQ(error(truck("[[j1939.code]]\nfrom = \"pump\"\nspn = 177\nfmi = 3\n")),
            "s:7: 'from' is 'pump'; known: engine, transmission");
  EXPECT_EQ(error(truck("[[j1939.code]]\nfrom = \"engine\"\nspn = 177\nfmi = 32\n")),
            "s:9: 'fmi' is 32, outside 0…31");
  EXPECT_EQ(error("format = 1\ntitle = \"t\"\nlasts_s = 60\n[j1939]\n" + code),
            "s:5: the codes are never told; give 'fault_codes_s', the period of DM1");
}

}  // namespace
}  // namespace sumplog
