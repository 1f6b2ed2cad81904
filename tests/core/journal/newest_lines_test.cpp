#include "core/journal/newest_lines.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

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
  EXPECT_THAT(state(lines, 15), HasSubstr(R"({"unit":{"heard":true,"age_s":5.0})"));
  EXPECT_THAT(state(lines, 15.1), HasSubstr(R"({"unit":{"heard":false,"age_s":5.1})"));
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
  EXPECT_THAT(state(lines, 2), HasSubstr(R"({"unit":{"heard":false})"));
}

TEST(NewestLines, AUnitThatSpeaksOfItselfOrOfItsCodesIsHeardAndAWholeBusIsNone) {
  VehicleEvent bus{};
  bus.at = at_s(1);
  bus.state = "no unit answers";
  VehicleEvent unit = bus;
  unit.ecu = "7E9";
  unit.state = "answers again";
  CodesEvent codes;
  codes.at = at_s(1);
  codes.ecu = "7E9";
  for (const auto& [event, heard] :
       {std::pair{Event(bus), false}, {Event(unit), true}, {Event(codes), true}}) {
    NewestLines lines;
    say(lines, event);
    EXPECT_EQ(state(lines, 1).find(R"("heard":true)") != std::string::npos, heard) << journal_line(event);
  }
}

TEST(NewestLines, EveryKindThatAPageShowsHasItsPlace) {
  NewestLines lines;
  ThermalEvent thermal{};
  thermal.at = at_s(1);
  CheckEvent check{};
  check.at = at_s(1);
  ForecastEvent forecast{};
  forecast.at = at_s(1);
  VerdictEvent verdict{};
  verdict.at = at_s(1);
  for (const Event& event : {Event(thermal), Event(check), Event(forecast), Event(verdict)})
    say(lines, event);
  for (const char* const kind : {"thermal", "check", "forecast", "verdict"})
    EXPECT_THAT(state(lines, 2), HasSubstr("\"" + std::string(kind) + "\":{\"age_s\":1.0")) << kind;
}

TEST(NewestLines, AnotherEntryThanThoseOfThePlugMovesNoPlug) {
  NewestLines lines;
  say(lines, EntryEvent{at_s(10), "a", "plug_out", "{}", std::nullopt});
  say(lines, EntryEvent{at_s(11), "b", "confirmed", "{}", std::nullopt});
  EXPECT_THAT(state(lines, 12), HasSubstr(R"("plug":{"out":true,"since_t":1700000010.000000})"));
}

ReadingEvent speed(double at, const std::string& ecu, std::optional<double> value) {
  ReadingEvent reading;
  reading.at = at_s(at);
  reading.signal = "vehicle_speed";
  reading.value = value;
  reading.unit = "km/h";
  reading.ecu = ecu;
  return reading;
}

TEST(NewestLines, EachSignalHasItsNewestReadingOfTheUnitThatGaveItFirst) {
  NewestLines lines;
  say(lines, speed(1, "7E9", std::nullopt));
  say(lines, speed(2, "7E8", 0));
  say(lines, speed(3, "7E9", 50));  // another unit does not take turns with it
  say(lines, speed(4, "7E8", 10));
  EXPECT_THAT(state(lines, 5), HasSubstr(R"("readings":{"vehicle_speed":{"age_s":1.0,"line":)" +
                                         journal_line(Event(speed(4, "7E8", 10))) + "}}"));
  say(lines, speed(6, "7E9", std::nullopt));  // nor one that has no value
  EXPECT_THAT(state(lines, 7), HasSubstr(journal_line(Event(speed(4, "7E8", 10)))));
}

TEST(NewestLines, OfUnitsWithoutAValueTheFirstStands) {
  NewestLines lines;
  say(lines, speed(1, "7E9", std::nullopt));
  say(lines, speed(2, "7E8", std::nullopt));
  EXPECT_THAT(state(lines, 3), HasSubstr(R"("ecu":"7E9")"));
}

TEST(NewestLines, AReadingByHandStandsBesideThatOfTheUnit) {
  NewestLines lines;
  ReadingEvent by_hand;
  by_hand.at = at_s(1);
  by_hand.signal = "fluid_temperature";
  by_hand.value = 33;
  by_hand.quality = Quality::by_hand;
  say(lines, by_hand);
  EXPECT_THAT(state(lines, 2), HasSubstr(R"("readings":{"by_hand":{"age_s":1.0,)"));
  EXPECT_THAT(state(lines, 2), Not(HasSubstr(R"("fluid_temperature":{)")));
}

TEST(NewestLines, ThePlugIsWhereItWasPutLastNotWhereThatWasEnteredLast) {
  NewestLines lines;
  EXPECT_THAT(state(lines, 1), Not(HasSubstr("plug")));
  say(lines, EntryEvent{at_s(10), "a", "plug_out", "{}", std::nullopt});
  EXPECT_THAT(state(lines, 11), HasSubstr(R"("plug":{"out":true,"since_t":1700000010.000000})"));
  say(lines, EntryEvent{at_s(12), "b", "plug_in", "{}", at_s(5)});  // late: it was in before it came out
  EXPECT_THAT(state(lines, 13), HasSubstr(R"("plug":{"out":true,)"));
  say(lines, EntryEvent{at_s(14), "c", "plug_in", "{}", at_s(13)});
  EXPECT_THAT(state(lines, 15), HasSubstr(R"("plug":{"out":false,"since_t":1700000013.000000})"));
}

}  // namespace
}  // namespace sumplog
