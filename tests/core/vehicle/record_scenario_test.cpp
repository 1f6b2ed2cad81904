#include "core/vehicle/record_scenario.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>

#include "core/item/item_text.h"
#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using std::chrono::milliseconds;
using std::chrono::seconds;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

const std::string kPlan = R"(
[[ask]]
at_s = 0.1
payload = "09 02"
[[ask]]
at_s = 1
every_s = 0.5
payload = "22 1A 05"
ecu = "transmission"
[[ask]]
at_s = 1.2
every_s = 1
payload = "01 0C 05 0D"
)";

std::vector<CanFrame> frames_of(const std::vector<Item>& items) {
  std::vector<CanFrame> frames;
  for (const Item& item : items) {
    if (const auto* frame = std::get_if<CanFrame>(&item)) frames.push_back(*frame);
  }
  return frames;
}

Scenario short_scenario(const std::string& more = {}) {
  Scenario scenario = scenario_of(scenario_text(kPlan + more));
  scenario.lasts = seconds(20);
  return scenario;
}

TEST(RecordScenario, EqualScenariosGiveEqualBytes) {
  EXPECT_EQ(capture_text(record_scenario(short_scenario())), capture_text(record_scenario(short_scenario())));
}

TEST(RecordScenario, AnotherSeedMovesTimesButNeitherRequestsNorTemperatures) {
  Scenario other = short_scenario();
  other.seed = 2;
  const auto one = frames_of(record_scenario(short_scenario()));
  const auto two = frames_of(record_scenario(other));
  ASSERT_NE(one, two);
  const auto readings = [](const std::vector<CanFrame>& frames) {
    std::vector<std::uint8_t> values;
    for (const CanFrame& frame : frames) {
      if (frame.id == standard_id(0x7E9) && frame.bytes[1] == 0x62) values.push_back(frame.bytes[4]);
    }
    return values;
  };
  EXPECT_EQ(readings(one), readings(two));
  EXPECT_EQ(readings(one).size(), 38U);  // 2 Hz from 1 s to before 20 s
}

TEST(RecordScenario, TimesNeverRunBackwards) {
  const auto items = record_scenario(short_scenario());
  for (std::size_t i = 1; i < items.size(); ++i) ASSERT_LE(time_of(items[i - 1]), time_of(items[i]));
}

TEST(RecordScenario, OnlyRequestsOfThePlanAndFlowControlLeaveTheTester) {
  std::map<std::string, int> sent;
  for (const CanFrame& frame : frames_of(record_scenario(short_scenario()))) {
    const bool request =
        frame.id == standard_id(0x7DF) || frame.id == standard_id(0x7E0) || frame.id == standard_id(0x7E1);
    if (request) ++sent[testing_vehicle::text_of_frame(frame)];
  }
  const std::map<std::string, int> expected{{"7DF#020902CCCCCCCCCC", 1},
                                            {"7E0#300000CCCCCCCCCC", 20},  // VIN once, parameters 19 times
                                            {"7E1#03221A05CCCCCCCC", 38},
                                            {"7DF#04010C050DCCCCCC", 19}};
  EXPECT_EQ(sent, expected);
}

TEST(RecordScenario, AdapterGapIsALinkEventAndNoFrameBetween) {
  const auto items = record_scenario(short_scenario(R"(
[[event]]
at_s = 5
what = "link_down"
[[event]]
at_s = 9
what = "link_up"
)"));
  std::vector<LinkEvent> events;
  const TimePoint start = short_scenario().start;
  for (const Item& item : items) {
    if (const auto* event = std::get_if<LinkEvent>(&item)) {
      events.push_back(*event);
    } else {
      ASSERT_FALSE(time_of(item) > start + seconds(5) && time_of(item) < start + seconds(9));
    }
  }
  ASSERT_EQ(events.size(), 2U);
  EXPECT_EQ(events[0].state, LinkState::down);
  EXPECT_EQ(events[0].at, start + seconds(5));
  EXPECT_EQ(events[1].state, LinkState::up);
  EXPECT_GT(time_of(items.back()), start + seconds(19));
}

TEST(RecordScenario, AClockThatIsSetIsAnItemAndBendsNoTime) {
  const Scenario without = short_scenario();
  const Scenario with = short_scenario("[[event]]\nat_s = 5\nwhat = \"clock_step\"\nstep_s = 3600\n");
  const auto items = record_scenario(with);
  EXPECT_EQ(frames_of(items), frames_of(record_scenario(without)));
  const auto found = std::find_if(items.begin(), items.end(),
                                  [](const Item& item) { return std::holds_alternative<ClockStep>(item); });
  ASSERT_NE(found, items.end());
  EXPECT_EQ(time_of(*found), with.start + seconds(5));
  EXPECT_EQ(std::get<ClockStep>(*found).step, seconds(3600));
}

TEST(RecordScenario, AUnitWithAnAddressByteIsAskedWithItAndAnAskEndsWhenItSays) {
  const auto items = record_scenario(scenario_of(scenario_text(R"(
[[ecu]]
id = "third"
request = 0x6F1
response = 0x612
addressing = "extended"
request_address = 0x12
response_address = 0xF1
[[ecu.did]]
did = 0x1A05
hex = "2A"
[[ask]]
at_s = 1
every_s = 1
until_s = 3
payload = "22 1A 05"
ecu = "third"
)")));
  std::map<std::string, int> said;
  for (const CanFrame& frame : frames_of(items)) ++said[testing_vehicle::text_of_frame(frame)];
  EXPECT_EQ(said["6F1#1203221A05CCCCCC"], 3);
  EXPECT_EQ(said["612#F104621A052ACCCC"], 3);
}

TEST(RecordScenario, MistakeInTheScenarioIsSaid) {
  const auto items = record_scenario("format = 1\n", "s.toml");
  ASSERT_FALSE(items);
  EXPECT_EQ(items.error().place, "s.toml:1");
}

TEST(CaptureText, FramesAloneAreACandumpLog) {
  const std::string text = capture_text(record_scenario(short_scenario()));
  EXPECT_EQ(text.substr(0, 48), "(1700000000.100222) can0 7DF#020902CCCCCCCCCC\n(1");
  EXPECT_EQ(text.find('{'), std::string::npos);
}

TEST(CaptureText, AnythingElseMakesItAJobFileThatReadsBack) {
  const std::vector<Item> items{data_frame(at_micros(5), BusName("can0"), standard_id(0x7E8), {}),
                                LinkEvent{at_micros(6), BusName("can0"), LinkState::down}};
  const std::string text = capture_text(items);
  EXPECT_EQ(text.substr(0, kJobFileMagic.size() + 1), std::string{kJobFileMagic} + "\n");
  ItemLineParser parser;
  std::vector<Item> back;
  std::size_t from = 0;
  for (std::size_t end = text.find('\n'); end != std::string::npos;
       from = end + 1, end = text.find('\n', from)) {
    const ParsedLine line = parser.on_line(std::string_view(text).substr(from, end - from));
    ASSERT_EQ(line.problem, "");
    if (line.item) back.push_back(*line.item);
  }
  EXPECT_EQ(capture_text(back), text);
  EXPECT_EQ(back.size(), 2U);
}

}  // namespace
}  // namespace sumplog
