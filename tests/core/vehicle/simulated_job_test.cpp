#include "core/vehicle/simulated_job.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <set>

#include "core/journal/flow_run.h"
#include "core/vehicle/demo_vehicle.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using testing::demo_opening;
using testing_vehicle::scenario_of;
using testing_vehicle::scenario_text;

/// An entry, an adapter that is pulled and put back, and a clock that is set.
constexpr char kHappenings[] = R"(
[[entry]]
at_s = 0.5
name = "note"
fields = { text = "begun" }
[[event]]
at_s = 1
what = "link_down"
[[event]]
at_s = 1.5
what = "link_up"
[[event]]
at_s = 2
what = "clock_step"
step_s = 3600
)";

/// What was recorded up to the end, or to the one that could not be written.
struct Course {
  std::vector<Item> items;
  int refused = 0;
  bool failed = false;
};

/// in   most  the item behind these cannot be written
Course run(std::size_t most, Scenario scenario = scenario_of(scenario_text(kHappenings))) {
  scenario.lasts = 2500ms;
  Course course;
  std::vector<Event> events;
  SimulatedJob job(scenario, testing::kJobStart, demo_opening(), [&](const Item& item) -> Result<Item> {
    if (course.items.size() >= most) {
      ++course.refused;
      return fault("the disk is full");
    }
    course.items.push_back(item);
    return item;
  });
  for (;;) {
    const auto more = job.step(events);
    if (!more) {
      EXPECT_EQ(more.error().text(), "the disk is full");
      course.failed = true;
      return course;
    }
    if (!*more) return course;
  }
}

TEST(SimulatedJobTest, WhatTheScenarioHoldsForTheTesterIsRecorded) {
  const Course course = run(std::string::npos);
  EXPECT_FALSE(course.failed);
  const auto count = [&](auto kind) {
    return std::count_if(course.items.begin(), course.items.end(),
                         [](const Item& item) { return std::holds_alternative<decltype(kind)>(item); });
  };
  EXPECT_EQ(count(Entry{}), 1);
  EXPECT_EQ(count(LinkEvent{}), 2);
  EXPECT_EQ(count(ClockStep{}), 1);
  EXPECT_GT(count(CanFrame{}), 20);
  for (const Item& item : course.items) {
    if (const auto* frame = std::get_if<CanFrame>(&item)) {
      EXPECT_FALSE(frame->at > testing::kJobStart + 1s && frame->at < testing::kJobStart + 1500ms);
    }
  }
}

TEST(SimulatedJobTest, AnErrorPassiveLinkCarriesFramesAndOneThatIsDownNone) {
  const auto frames_behind = [](LinkState state) {
    Scenario scenario = scenario_of(scenario_text());
    scenario.events.push_back({1s, TesterChange{LinkChange{state}}});
    const Course course = run(std::string::npos, scenario);
    return std::count_if(course.items.begin(), course.items.end(), [](const Item& item) {
      const auto* frame = std::get_if<CanFrame>(&item);
      return frame != nullptr && frame->at > testing::kJobStart + 1100ms;
    });
  };
  EXPECT_GT(frames_behind(LinkState::error_passive), 10);
  EXPECT_EQ(frames_behind(LinkState::down), 0);
}

TEST(SimulatedJobTest, AnItemThatCannotBeWrittenEndsItWhereverItComesFrom) {
  const std::size_t all = run(std::string::npos).items.size();
  for (std::size_t most = 0; most < all; ++most) {
    const Course course = run(most);
    EXPECT_TRUE(course.failed) << most;
    EXPECT_EQ(course.items.size(), most);
    EXPECT_EQ(course.refused, 1) << "nothing more is tried";
  }
}

}  // namespace
}  // namespace sumplog
