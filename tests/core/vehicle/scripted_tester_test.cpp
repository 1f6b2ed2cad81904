#include "core/vehicle/scripted_tester.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/diagnostics/exchange.h"
#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using testing_vehicle::bytes_of;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

TEST(ScriptedTester, AnAnswerOfAnotherUnitNeitherEndsNorStretchesTheWait) {
  const Scenario scenario =
      scenario_of(scenario_text("[[ask]]\nat_s = 0\necu = \"transmission\"\npayload = \"22 1A 05\"\n"));
  const TimePoint start = scenario.start;
  ScriptedTester tester(scenario, start);
  tester.on_deadline(start);
  EXPECT_EQ(tester.take_outbox().size(), 1U);
  ASSERT_EQ(tester.deadline(), start + kP2Client);
  const auto answers = [&](std::uint32_t id, Duration at) {
    tester.on_frame(
        data_frame(start + at, scenario.bus, standard_id(id), bytes_of("04 62 1A 05 4B CC CC CC")));
  };
  answers(0x7E8, 5ms);
  EXPECT_EQ(tester.deadline(), start + kP2Client);
  answers(0x7E9, 9ms);
  EXPECT_EQ(tester.deadline(), std::nullopt);
  answers(0x7E9, 20ms);  // once more: nobody waits for it
  EXPECT_EQ(tester.deadline(), std::nullopt);
  EXPECT_EQ(tester.answers().size(), 3U);
}

}  // namespace
}  // namespace sumplog
