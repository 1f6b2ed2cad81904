#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>

#include "core/codes/code_table.h"
#include "core/decoder/folders.h"
#include "core/item/json_line.h"
#include "core/vehicle/record_scenario.h"

namespace sumplog {
namespace {

namespace fs = std::filesystem;

// tests/scan/*.toml: the vehicles that a code scan is shown on.

fs::path file_of(const std::string& name) {
  return fs::path{SUMPLOG_SOURCE} / "tests/scan" / (name + ".toml");
}

Scenario scenario_called(const std::string& name) {
  const auto scenario = parse_scenario(testing::file_text(file_of(name)), name + ".toml");
  EXPECT_TRUE(scenario) << scenario.error().text();
  return scenario ? *scenario : Scenario{};
}

bool is_silent(const Scenario& scenario, std::size_t unit) {
  return std::any_of(scenario.events.begin(), scenario.events.end(), [unit](const ScenarioEvent& event) {
    const auto* change = std::get_if<UnitChange>(&event.change);
    return change != nullptr && change->unit == unit && std::holds_alternative<SilenceChange>(change->change);
  });
}

/// "7E9 7F1978" … : frames that begin with these bytes, from that identifier.
int frames_with(const std::vector<Item>& items, const std::string& id, const std::string& bytes) {
  int count = 0;
  for (const Item& item : items) {
    const auto* frame = std::get_if<CanFrame>(&item);
    if (frame == nullptr || ecu_text(frame->id) != id) continue;
    if (hex_text(frame->data().data(), frame->data().size()).starts_with(bytes)) ++count;
  }
  return count;
}

class ThreeUnits : public ::testing::TestWithParam<std::string> {};

TEST_P(ThreeUnits, HaveTwelveCodesOfEveryClassAndOneUnitThatNeverAnswers) {
  const Scenario scenario = scenario_called(GetParam());
  CodeTable table;
  const auto generic = parse_code_file(
      testing::file_text(fs::path{SUMPLOG_SOURCE} / "decoders/obd-generic/codes.toml"), "codes.toml");
  ASSERT_TRUE(generic) << generic.error().text();
  table.add(*generic);
  std::set<std::string> classes;
  std::size_t codes = 0;
  int silent = 0;
  for (std::size_t i = 0; i < scenario.units.size(); ++i) {
    if (is_silent(scenario, i)) ++silent;
    for (const CodePlan& code : scenario.units[i].memory.codes) {
      classes.insert(std::string{text_of(table.find(code.code).code_class)});
      ++codes;
    }
  }
  EXPECT_EQ(scenario.units.size(), 4U);
  EXPECT_EQ(silent, 1);
  EXPECT_EQ(codes, 12U);
  EXPECT_THAT(classes, ::testing::UnorderedElementsAre("stop first", "decide first",
                                                       "invalidates the level check", "affects warm-up",
                                                       "reason to service", "unrelated", "unknown"));
}

TEST_P(ThreeUnits, AnswerInARecordingAsTheScenarioSays) {
  const Scenario scenario = scenario_called(GetParam());
  const std::vector<Item> items = record_scenario(scenario);
  const auto id = [&](std::size_t unit) { return ecu_text(scenario.units[unit].address.response); };
  EXPECT_EQ(frames_with(items, id(1), "037F1978"), 4) << "ISO 14229-1, 78: response pending";
  EXPECT_EQ(frames_with(items, id(1), "101B59027F07111F"), 1) << "3 + 6 codes of 4 bytes";
  EXPECT_EQ(frames_with(items, id(0), "0643020700"), 1);
  EXPECT_EQ(frames_with(items, id(2), "100F59022F403513"), 1);
  EXPECT_EQ(frames_with(items, id(3), ""), 0);
}
INSTANTIATE_TEST_SUITE_P(BothKindsOfIdentifiers, ThreeUnits,
                         ::testing::Values("three-units-11-bit", "three-units-29-bit"), [](const auto& name) {
                           return name.param == "three-units-11-bit" ? "Bits11" : "Bits29";
                         });

/// Unit and code -> its status in words; only of units that answer.
std::map<std::string, std::string> stored_in(const Scenario& scenario) {
  std::map<std::string, std::string> out;
  for (std::size_t i = 0; i < scenario.units.size(); ++i) {
    if (is_silent(scenario, i)) continue;
    for (const CodePlan& code : scenario.units[i].memory.codes)
      out[scenario.units[i].id + " " + text_of(code.code)] =
          hex_text(&code.status, 1) + (code.permanent ? " permanent" : "");
  }
  return out;
}

TEST(BeforeAndAfter, ShowEveryKindOfDifference) {
  const Scenario before = scenario_called("before");
  const Scenario after = scenario_called("after");
  const auto then = stored_in(before);
  const auto now = stored_in(after);
  std::map<std::string, std::string> seen;
  for (const auto& [code, status] : then) {
    const auto found = now.find(code);
    seen[code] = found == now.end() ? "not now" : found->second == status ? "same" : "status changed";
  }
  for (const auto& [code, status] : now)
    if (!then.contains(code)) seen[code] = "not then";
  EXPECT_THAT(
      seen,
      ::testing::UnorderedElementsAre(
          std::pair{"brakes B1234-11", "not now"}, std::pair{"brakes C0035-13", "not now"},
          std::pair{"brakes U0101-87", "not now"}, std::pair{"engine P0128-00", "not now"},
          std::pair{"engine P0562-00", "same"}, std::pair{"engine P0700-00", "status changed"},
          std::pair{"selector P0705-00", "not then"}, std::pair{"transmission P0218-00", "same"},
          std::pair{"transmission P0711-1F", "status changed"}, std::pair{"transmission P0731-00", "not now"},
          std::pair{"transmission P0741-00", "same"}, std::pair{"transmission P0868-00", "not then"},
          std::pair{"transmission P0897-00", "same"}, std::pair{"transmission P1799-00", "same"}));
  EXPECT_TRUE(is_silent(before, 3)) << "the selector's unit";
  EXPECT_TRUE(is_silent(after, 2)) << "the brakes'";
  // The engine's memory was cleared in between: its distance is shorter than before, the transmission's is not.
  EXPECT_LT(after.units[0].memory.distance_since_clear_km, before.units[0].memory.distance_since_clear_km);
  EXPECT_GT(after.units[1].memory.distance_since_clear_km, before.units[1].memory.distance_since_clear_km);
  EXPECT_GT(after.start, before.start);
}

}  // namespace
}  // namespace sumplog
