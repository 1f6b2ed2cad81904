#include "core/journal/newest_lines.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TimePoint at_s(double s) {
  return at_micros(1'700'000'000'000'000 + static_cast<std::int64_t>(s * 1e6));
}
void say(NewestLines& lines, const Event& event) {
  lines.on_event(event, journal_line(event));
}
std::string state(const NewestLines& lines, double at) {
  JsonLine out;
  lines.write(out, at_s(at));
  return out.take();
}

TEST(NewestLines, SayNothingOfWhatNeverCame) {
  EXPECT_EQ(state({}, 0), R"({"unit":{"heard":false},"newest":{}})");
}

TEST(NewestLines, TheNewestOfAKindComesWithItsAge) {
  NewestLines lines;
  say(lines, WindowEvent{at_s(1), WindowState::unknown, WindowState::below, 30.0, {}});
  const Event inside = WindowEvent{at_s(5), WindowState::below, WindowState::inside, 35.0, {}};
  say(lines, inside);
  EXPECT_EQ(state(lines, 7.5), "{\"unit\":{\"heard\":false},\"newest\":{\"window\":{\"age_s\":2.5,\"line\":" +
                                   journal_line(inside) + "}}}");
}

TEST(NewestLines, AUnitIsHeardWhileItHasSaidSomethingInTheLastFiveSeconds) {
  NewestLines lines;
  ReadingEvent reading;
  reading.at = at_s(10);
  reading.ecu = "7E9";
  say(lines, reading);
  EXPECT_EQ(state(lines, 15), R"({"unit":{"heard":true,"age_s":5.0},"newest":{}})");
  EXPECT_EQ(state(lines, 15.1), R"({"unit":{"heard":false,"age_s":5.1},"newest":{}})");
}

TEST(NewestLines, WhatAPersonTypedAndASilenceAreNoUnit) {
  NewestLines lines;
  ReadingEvent by_hand;
  by_hand.at = at_s(1);
  by_hand.quality = Quality::by_hand;
  say(lines, by_hand);
  VehicleEvent silent;
  silent.at = at_s(2);
  silent.ecu = "7E9";
  silent.state = "silent";
  say(lines, silent);
  EXPECT_EQ(state(lines, 2), R"({"unit":{"heard":false},"newest":{}})");
}

}  // namespace
}  // namespace sumplog
