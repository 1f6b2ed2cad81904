// A whole job on the simulated vehicle, from reception to hand-over, in virtual time: asker, guard and core as they run live.
// Then the same with one condition of the level check broken at a time.
#include "core/vehicle/whole_job.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>

#include "core/item/entry_names.h"
#include "core/job/stages.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

// Of the shipped scenario.
constexpr double kPlugOut_s = 11890;
constexpr double kDuring_s = 11910;  // between plug out and plug in
constexpr double kPlugIn_s = 11960;

VerdictEvent verdict_of(const LiveVehicle& car) {
  const auto verdicts = car.all<VerdictEvent>();
  if (verdicts.empty()) {
    ADD_FAILURE() << "no verdict";
    return {};
  }
  return verdicts.back();
}

TEST(WholeJob, KeepsTheConditionsAndTellsEverythingOnTheWay) {
  const WholeJobRun car(whole_job());
  std::vector<std::string> begun;
  std::vector<std::string> ended;
  for (const StageEvent& stage : car.all<StageEvent>())
    (stage.change == StageChange::begun ? begun : ended).push_back(stage.stage);
  const std::vector<std::string> stages(kStages.begin(), kStages.end());
  EXPECT_EQ(begun, stages);
  EXPECT_EQ(ended, stages);

  const auto scans = car.all<ScanEvent>();
  ASSERT_THAT(scans, SizeIs(3));
  for (const ScanEvent& scan : scans) EXPECT_TRUE(scan.complete) << scan.scan;
  EXPECT_THAT(car.all<ComparedEvent>(), SizeIs(1)) << "codes after against codes before";

  const auto holds = car.all<HoldEvent>();
  EXPECT_TRUE(std::any_of(holds.begin(), holds.end(), [](const HoldEvent& one) {
    return one.cycle_complete && one.quality == Quality::measured;
  }));

  const VerdictEvent verdict = verdict_of(car);
  EXPECT_THAT(verdict.why, IsEmpty());
  EXPECT_TRUE(verdict.kept);
  EXPECT_EQ(verdict.thermometer, Quality::measured);
  EXPECT_EQ(verdict.inside_for_s, kPlugIn_s - kPlugOut_s);
  EXPECT_THAT(verdict.by_hand, ElementsAre("plug in 5 s ago"));
  ASSERT_TRUE(verdict.level_seen);
  EXPECT_EQ(verdict.level_seen->reached, true);
  EXPECT_EQ(verdict.origin, "demo-9/service.toml: invented");
}

// captures/demo-9/whole-job/job.journal: what a person reads of the job, without the readings of every second.
// SUMPLOG_BLESS=1 writes it anew; the commit then says why.
TEST(WholeJob, GivesTheJournalThatItGaveBefore) {
  std::string text;
  for (const std::string& line : WholeJobRun(whole_job()).lines())
    if (line.find(R"("kind":"reading")") == std::string::npos &&
        line.find(R"("kind":"thermal")") == std::string::npos)
      text += line + '\n';
  const std::string path = std::string(SUMPLOG_SOURCE) + "/captures/demo-9/whole-job/job.journal";
  if (const char* bless = std::getenv("SUMPLOG_BLESS"); bless != nullptr && std::string(bless) == "1")
    std::ofstream(path, std::ios::binary) << text;
  EXPECT_TRUE(file_text(path) == text) << path << " differs from what its scenario gives";
}

TEST(WholeJob, ReplaysToTheSameJournal) {
  const WholeJobRun car(whole_job());
  const FlowRun replayed(car.items());
  EXPECT_TRUE(replayed.lines() == car.lines()) << "a difference would be megabytes";
}

// --- one condition broken at a time ---

struct Broken {
  const char* name;
  std::function<void(Scenario&)> change;
  std::function<void(std::string&)> service;
  std::string why;  ///< the only reason, or how it begins
};
void PrintTo(const Broken& broken, std::ostream* out) {
  *out << broken.name;
}

class WholeJobBroken : public ::testing::TestWithParam<Broken> {};

TEST_P(WholeJobBroken, GivesExactlyItsReason) {
  const Broken& broken = GetParam();
  Scenario scenario = whole_job();
  if (broken.change) broken.change(scenario);
  const WholeJobRun car(scenario, whole_job_opening(broken.service));
  const VerdictEvent verdict = verdict_of(car);
  EXPECT_FALSE(verdict.kept);
  ASSERT_THAT(verdict.why, SizeIs(1)) << ::testing::PrintToString(verdict.why);
  EXPECT_THAT(verdict.why[0], ::testing::StartsWith(broken.why));
}

std::vector<Broken> variants() {
  return {
      {"SensorDead",
       [](Scenario& s) {
         happens(s, kDuring_s, VehicleChange{SensorChange{SensorState::dead, {}}});
         happens(s, kDuring_s + 12, VehicleChange{SensorChange{SensorState::works, {}}});
       },
       {},
       "the reading was lost for 1"},
      {"AdapterGone",
       [](Scenario& s) {
         happens(s, kDuring_s, TesterChange{LinkChange{LinkState::gone}});
         happens(s, kDuring_s + 10, TesterChange{LinkChange{LinkState::up}});
       },
       {},
       "the reading was lost for 1"},
      {"TransmissionSilent",
       [](Scenario& s) {
         happens(s, kDuring_s, UnitChange{1, SilenceChange{true}});
         happens(s, kDuring_s + 10, UnitChange{1, SilenceChange{false}});
       },
       {},
       "the reading was lost for 1"},
      {"BelowAtPlugOut",
       [](Scenario& s) {
         forgets(s, kPlugOut);
         enters(s, 11700, "plug_out");
       },
       {},
       "the fluid was below the window for "},
      {"AboveBeforePlugIn",
       {},
       [](std::string& t) {
         replace(t, "high_c = 45", "high_c = 37");
         replace(t, "at_c = 40", "at_c = 36");
       },
       "the fluid was above the window for "},
      {"AboveTheStartLimit",
       {},
       [](std::string& t) { replace(t, "below_c = 30", "below_c = 20"); },
       "begun above the start limit of 20 °C"},
      {"EngineOff",
       [](Scenario& s) {
         happens(s, kDuring_s, VehicleChange{EngineChange{false}});
         happens(s, kDuring_s + 5, VehicleChange{EngineChange{true}});
       },
       {},
       "the engine was off for "},
      {"OffIdle",
       [](Scenario& s) {
         happens(s, kDuring_s, VehicleChange{EngineSpeedChange{1500.0}});
         happens(s, kDuring_s + 4, VehicleChange{EngineSpeedChange{}});
       },
       {},
       "the engine was not at idle for "},
      {"EngineSilent",
       [](Scenario& s) {
         happens(s, kDuring_s, UnitChange{0, SilenceChange{true}});
         happens(s, kDuring_s + 10, UnitChange{0, SilenceChange{false}});
       },
       [](std::string& t) { replace(t, "state = \"standing\"", "state = \"any\""); },
       "engine speed was not known for "},
      {"Moved",
       [](Scenario& s) {
         happens(s, kDuring_s, VehicleChange{EngineSpeedChange{700.0}});
         happens(s, kDuring_s, VehicleChange{VehicleSpeedChange{2}});
         happens(s, kDuring_s + 4, VehicleChange{VehicleSpeedChange{0}});
       },
       {},
       "the vehicle moved for "},
      {"SelectorMoved",
       [](Scenario& s) {
         happens(s, kDuring_s, VehicleChange{SelectorChange{SelectorPosition::reverse}});
         happens(s, kDuring_s + 5, VehicleChange{SelectorChange{SelectorPosition::park}});
       },
       {},
       "the selector was in R for "},
      {"NotSettledAfterStart",
       {},
       [](std::string& t) { replace(t, "s = 60\n", "s = 600\n"); },
       "the plug came out within the settling time after engine start"},
      {"NotSettledAfterAddition",
       [](Scenario& s) { enters(s, kPlugOut_s - 20, "fluid_added"); },
       {},
       "the plug came out within the settling time after fluid was added"},
      {"AddedAndNotMixed",
       [](Scenario& s) { enters(s, kDuring_s + 20, "fluid_in", R"({"litres":0.2})"); },
       {},
       "the plug came in within the settling time after fluid was added"},
      {"SensorCode",
       [](Scenario& s) {
         CodePlan code = s.units[1].memory.codes.at(0);
         code.code.code = 0x0711;
         s.units[1].memory.codes.push_back(code);
       },
       {},
       "fault code P0711"},
      {"CodesTooOld", [](Scenario& s) { forgets(s, kScanEntry, "during"); }, {}, "fault codes were read 1"},
      {"CodesNeverRead",
       [](Scenario& s) {
         forgets(s, kScanEntry, "during");
         forgets(s, kScanEntry, "before");
       },
       {},
       "fault codes of the unit that gives the temperature were not read"},
      {"CycleTooShort",
       [](Scenario& s) {
         for (ScenarioEvent& one : s.events)
           if (one.at == at_s(11547)) one.at = at_s(11543);
       },
       {},
       "the selector cycle was not complete at plug out: D"},
      {"NotTicked",
       {},
       [](std::string& t) {
         t += "\n[by_hand]\nconditions = [\"car level in both axes\"]\norigin = \"invented\"\n";
       },
       "not ticked: car level in both axes"},
      {"WindowNotConfirmed",
       [](Scenario& s) { forgets(s, kConfirmed, "window"); },
       {},
       "nobody confirmed the window"},
      {"DecoderNotConfirmed",
       [](Scenario& s) { forgets(s, kConfirmed, "decoder"); },
       {},
       "nobody confirmed the decoder"},
      {"ThermometerNotCompared",
       [](Scenario& s) { forgets(s, kReadingByHand, "24.5"); },
       {},
       "the unit's thermometer was not compared with another one"},
      {"ThermometerDiffers",
       [](Scenario& s) { enters(s, kPlugOut_s - 10, "reading_by_hand", R"({"value_c":44})"); },
       {},
       "the second thermometer differed by "},
      {"PlugOutAtTheEnd",
       [](Scenario& s) {
         forgets(s, kPlugIn);
         s.lasts = at_s(12000);
       },
       {},
       "the plug was out when the recording ended"},
  };
}

INSTANTIATE_TEST_SUITE_P(All, WholeJobBroken, ::testing::ValuesIn(variants()),
                         [](const auto& one) { return std::string(one.param.name); });

// --- a family that is checked with the engine off; invented ---

void check_with_the_engine_off(std::string& service) {
  replace(service, "state = \"running\"", "state = \"stopped\"");
  replace(service, "[idle]\nlow_rpm = 600\nhigh_rpm = 900\norigin = \"invented\"\n", "");
}

/// A short check late in the warm-up, because the fluid falls when the engine is off.
Scenario short_check() {
  Scenario scenario = whole_job();
  forgets(scenario, kPlugOut);
  forgets(scenario, kPlugIn);
  enters(scenario, 11970, std::string(kPlugOut));
  enters(scenario, 12000, std::string(kPlugIn));
  return scenario;
}

TEST(WholeJobEngineOff, KeepsTheConditions) {
  Scenario scenario = short_check();
  happens(scenario, 11965, VehicleChange{EngineChange{false}});
  const WholeJobRun car(scenario, whole_job_opening(check_with_the_engine_off));
  EXPECT_THAT(verdict_of(car).why, IsEmpty());
  EXPECT_EQ(verdict_of(car).engine_rpm, 0);
}

TEST(WholeJobEngineOff, IsNotKeptWithARunningEngine) {
  const WholeJobRun car(short_check(), whole_job_opening(check_with_the_engine_off));
  EXPECT_THAT(verdict_of(car).why, ElementsAre("the engine was running for 30 s, from plug out on"));
}

}  // namespace
}  // namespace sumplog::testing
