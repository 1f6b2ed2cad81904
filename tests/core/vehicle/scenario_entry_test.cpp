#include <gtest/gtest.h>

#include "core/vehicle/scenario.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

const std::string kLeast = "format = 1\ntitle = \"t\"\nlasts_s = 60\n";

TEST(ScenarioEntry, IsReadWithItsFieldsAsJson) {
  const auto scenario = parse_scenario(kLeast + R"(
[[entry]]
at_s = 20.5
name = "plug_in"
fields = { ago_s = 5 }
[[entry]]
at_s = 3
name = "intake"
fields = { plate = "XX \"0\"", odometer_km = 84210, share = 0.25, diesel = true, petrol = false, parts = ["a", 2], more = { b = -1 } }
[[entry]]
at_s = 20.5
name = "read_once"
)",
                                       "s.toml");
  ASSERT_TRUE(scenario) << scenario.error().text();
  ASSERT_EQ(scenario->entries.size(), 3U);
  EXPECT_EQ(scenario->entries[0].name, "intake") << "in the order of their times";
  EXPECT_EQ(
      scenario->entries[0].fields,
      R"({"plate":"XX \"0\"","odometer_km":84210,"share":0.25,"diesel":true,"petrol":false,"parts":["a",2],"more":{"b":-1}})");
  EXPECT_EQ(scenario->entries[1].at, 20500ms);
  EXPECT_EQ(scenario->entries[1].fields, R"({"ago_s":5})");
  EXPECT_EQ(scenario->entries[2].fields, "{}");
}

TEST(ScenarioEntry, WithAMistakeIsRefusedWithItsLine) {
  const std::pair<const char*, const char*> kCases[] = {
      {"at_s = 61\nname = \"plug_in\"\n", "s.toml:5: the entry comes after the end of the scenario"},
      {"at_s = 1\n", "s.toml:4: missing key 'name'; known: intake"},
      {"at_s = 1\nname = \"plugin\"\n", "s.toml:6: 'name' is 'plugin'; known: intake"},
      {"at_s = 1\nname = \"note\"\nfields = 3\n", "s.toml:7: 'fields' must be a table"},
      {"at_s = 1\nname = \"note\"\ntext = \"x\"\n", "s.toml:7: unknown key 'text'"},
      {"at_s = 1\nname = \"note\"\nfields = { when = 2026-01-01 }\n",
       "s.toml:7: a date has no place in an entry"},
      {"at_s = 1\nname = \"stage_begun\"\n", "s.toml:4: an entry about a stage must name one"},
      {"at_s = 1\nname = \"stage_ended\"\nfields = { stage = \"tea break\" }\n",
       "s.toml:7: an entry about a stage must name one; known: reception"},
  };
  for (const auto& [text, error] : kCases) {
    const auto scenario = parse_scenario(kLeast + "[[entry]]\n" + text, "s.toml");
    ASSERT_FALSE(scenario) << text;
    EXPECT_EQ(scenario.error().text().substr(0, std::string(error).size()), error);
  }
}

}  // namespace
}  // namespace sumplog
