#include "core/drawing/course_fan.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kNow = at_micros(1'700'000'000'000'000);
constexpr TemperatureWindow kWindow{{35}, {45}};

ThermalEvent thermal(WindowState state, double temp_c) {
  ThermalEvent event;
  event.at = kNow;
  event.temp_c = temp_c;
  event.window = state;
  event.enter_in_s = Quantiles{90, 100, 120};
  event.stay_s = Quantiles{150, 200, 300};
  return event;
}

/// "30@0 35@90 …": the outline, °C and seconds from now.
std::string shown(const std::vector<CourseFan::Point>& points) {
  std::string text;
  for (const auto& point : points) {
    if (!text.empty()) text += ' ';
    text += std::to_string(static_cast<int>(point.value)) + "@" +
            std::to_string(std::chrono::duration_cast<std::chrono::seconds>(point.at - kNow).count());
  }
  return text;
}
std::string outline(const ThermalEvent& event) {
  const auto fan = course_fan(event, kWindow, kNow + 1h);
  return fan ? shown(fan->outline) : "nothing";
}
std::string likely(const ThermalEvent& event) {
  const auto fan = course_fan(event, kWindow, kNow + 1h);
  return fan ? shown(fan->likely) : "nothing";
}

TEST(CourseFanTest, FromBelowItLeadsToTheLowEdgeAndThenToTheHighOne) {
  EXPECT_EQ(outline(thermal(WindowState::below, 30)), "30@0 35@90 45@240 45@420 35@120");
  EXPECT_EQ(likely(thermal(WindowState::below, 30)), "30@0 35@100 45@300");
}

TEST(CourseFanTest, FromAboveTheOtherWayRound) {
  EXPECT_EQ(outline(thermal(WindowState::above, 50)), "50@0 45@90 35@240 35@420 45@120");
}

TEST(CourseFanTest, InsideItLeadsOutOnTheSideToWhichTheFluidGoes) {
  ThermalEvent event = thermal(WindowState::inside, 40);
  EXPECT_EQ(outline(event), "40@0 45@150 45@300") << "a rate that nobody knows is taken for a rise";
  event.rate_c_per_min = 2;
  EXPECT_EQ(outline(event), "40@0 45@150 45@300");
  event.rate_c_per_min = -2;
  EXPECT_EQ(outline(event), "40@0 35@150 35@300");
  EXPECT_EQ(likely(event), "40@0 35@200");
}

TEST(CourseFanTest, WhereNothingIsForecastNothingIsDrawn) {
  EXPECT_EQ(outline(thermal(WindowState::unknown, 40)), "nothing");
  ThermalEvent event = thermal(WindowState::below, 30);
  event.enter_in_s.reset();
  EXPECT_EQ(outline(event), "nothing");
  event.enter_in_s = Quantiles{};  // never
  EXPECT_EQ(outline(event), "nothing");
  event = thermal(WindowState::below, 30);
  event.temp_c.reset();
  EXPECT_EQ(outline(event), "nothing");
  event = thermal(WindowState::inside, 40);
  event.stay_s.reset();
  EXPECT_EQ(outline(event), "nothing");
}

TEST(CourseFanTest, WithoutAStayItEndsAtTheFirstEdge) {
  ThermalEvent event = thermal(WindowState::below, 30);
  event.stay_s.reset();
  EXPECT_EQ(outline(event), "30@0 35@90 35@120");
  event.stay_s = Quantiles{};  // it never leaves
  EXPECT_EQ(outline(event), "30@0 35@90 35@120");
}

TEST(CourseFanTest, WhatIsMoreLikelyNeverThanNotHasNoLikelyLine) {
  ThermalEvent event = thermal(WindowState::below, 30);
  event.enter_in_s = Quantiles{90, std::nullopt, std::nullopt};
  EXPECT_EQ(likely(event), "30@0");
  event = thermal(WindowState::below, 30);
  event.stay_s = Quantiles{150, std::nullopt, std::nullopt};
  EXPECT_EQ(likely(event), "30@0 35@100") << "it comes, and may never go";
}

TEST(CourseFanTest, EndsWithItsLastMomentAndNotBehindTheHorizon) {
  const ThermalEvent event = thermal(WindowState::below, 30);
  EXPECT_EQ(course_fan(event, kWindow, kNow + 1h)->ends, kNow + 420s);
  EXPECT_EQ(course_fan(event, kWindow, kNow + 60s)->ends, kNow + 60s);
}

}  // namespace
}  // namespace sumplog
