#include "core/asker/live_sweep.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <map>
#include <set>

#include "core/asker/swept_car.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::Each;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::StartsWith;

const std::vector<std::string> kRange{"7E1:1A00-1AFF"};

std::string event_at(int at_s, const std::string& what) {
  return "\n[[event]]\nat_s = " + std::to_string(at_s) + "\n" + what + "\n";
}

/// How often each request was sent.
std::map<std::string, int> counts(const std::vector<SweptCar::Asked>& list) {
  std::map<std::string, int> found;
  for (const auto& one : list) ++found[one.payload];
  return found;
}

/// Agreed, plug in, and in its first pass.
void begin(SweptCar& car) {
  car.agree();
  car.run_until_status("pass 1");
}

TEST(LiveSweepTest, OfTwoHundredAndFiftySixIdentifiersItFindsTheTwentyThatAnswer) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  EXPECT_THAT(
      car.notes(),
      ElementsAre("sweep begun: 7E1:1A00-1AFF, agreed by K. Example; fault codes before: P0128 of 7E8"));
  car.run_until_status("pass 2");
  EXPECT_EQ(car.sweep().progress().answering, 20U);
  EXPECT_EQ(car.sweep().progress().of, 20U);
  const auto asked = counts(car.identifiers_asked());
  EXPECT_EQ(asked.size(), 256U);
  for (const auto& [payload, count] : asked) EXPECT_EQ(count, 1) << payload;
  EXPECT_TRUE(car.sweep().goes_on());
}

TEST(LiveSweepTest, InNoSecondMoreThanTenRequestsLeave) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_for(5min);
  const auto asked = car.asked();
  ASSERT_GT(asked.size(), 1000U);
  for (std::size_t i = 10; i < asked.size(); ++i)
    EXPECT_GT(asked[i].at - asked[i - 10].at, 1s) << "eleven requests within a second, at the " << i << "th";
}

TEST(LiveSweepTest, OnlyServicesThatReadAndOnlyIdentifiersOfTheRangeLeave) {
  SweptCar car(swept_scenario(), {"7E1:1A00-1A1F", "7E0:40-4F"});
  begin(car);
  car.run_for(2min);
  std::set<std::string> services;
  for (const auto& one : car.asked()) services.insert(one.payload.substr(0, 2));
  EXPECT_THAT(services, ElementsAre("01", "03", "07", "09", "19", "21", "22"));
  for (const auto& one : car.identifiers_asked()) {
    if (one.to == standard_id(0x7E1)) {
      EXPECT_GE(one.payload, "221A00");
      EXPECT_LE(one.payload, "221A1F");
    } else {
      EXPECT_EQ(one.to, standard_id(0x7E0));
      EXPECT_GE(one.payload, "2140");
      EXPECT_LE(one.payload, "214F");
    }
  }
  EXPECT_EQ(car.vehicle().forbidden_requests(), 0U);
}

TEST(LiveSweepTest, WhatWarmsIsAskedEveryFewSecondsAndTheRestSeldom) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_until_status("pass 2");
  car.run_for(5min);
  EXPECT_EQ(car.sweep().progress().promising, 6U);
  const TimePoint from = car.now();
  car.run_for(1min);
  auto asked = counts(car.identifiers_asked(from));
  EXPECT_EQ(asked.size(), 20U) << "only those that answered";
  for (int i = 0; i < 20; ++i) {
    const std::uint8_t id = static_cast<std::uint8_t>(13 * i);
    const int count = asked["221A" + hex_text(&id, 1)];
    if (i < 6) {
      EXPECT_GE(count, 15) << i;
      EXPECT_LE(count, 20) << i;
    } else {
      EXPECT_GE(count, 2) << i;
      EXPECT_LE(count, 4) << i;
    }
  }
}

TEST(LiveSweepTest, WhatIsPutOffIsAskedOnceMoreAndNotAThirdTime) {
  std::string more;
  for (int i = 0; i < 4; ++i)  // one in between that answers: this is no unit that is busy
    more += "[[ecu.did]]\ndid = " + std::to_string(0x1A05 + 26 * i) + "\nrefuse = 0x" +
            (i % 2 == 0 ? "22" : "10") + "\n";
  SweptCar car(swept_scenario(more), kRange);
  begin(car);
  car.run_for(5min);
  EXPECT_THAT(car.status(), StartsWith("pass "));
  const auto asked = counts(car.identifiers_asked());
  for (const char* put_off : {"221A05", "221A1F", "221A39", "221A53"})
    EXPECT_EQ(asked.at(put_off), 2) << put_off;
}

// ---- what must be so before it begins ----

TEST(LiveSweepTest, NobodyHasAgreedSoNothingIsAsked) {
  SweptCar car(swept_scenario(), kRange);
  car.run_for(1min);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
  EXPECT_EQ(car.status(), "not begun yet: nobody has agreed to it");
  EXPECT_THAT(car.notes(), ElementsAre("sweep not begun: nobody has agreed to it"));
  EXPECT_FALSE(car.sweep().goes_on());
}

TEST(LiveSweepTest, AConsentToOtherIdentifiersOrWithoutANameIsNone) {
  SweptCar car(swept_scenario(), kRange);
  car.enter(std::string(kConfirmed), R"({"what":"sweep","origin":"7E1:1A00-1A0F","by":"K."})");
  car.enter(std::string(kConfirmed), R"({"what":"sweep","origin":"7E1:1A00-1AFF"})");
  car.enter(std::string(kConfirmed), R"({"what":"decoder","origin":"7E1:1A00-1AFF","by":"K."})");
  car.run_for(1min);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
}

TEST(LiveSweepTest, AVehicleThatMovesIsAskedWhenItStands) {
  SweptCar car(swept_scenario(event_at(0, "what = \"vehicle_speed\"\nkm_h = 20") +
                              event_at(30, "what = \"vehicle_speed\"\nkm_h = 0")),
               kRange);
  car.agree();
  car.run_for(29s);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
  EXPECT_EQ(car.status(), "not begun yet: the vehicle moves");
  car.run_for(10s);
  EXPECT_THAT(car.identifiers_asked(), Not(IsEmpty()));
}

TEST(LiveSweepTest, ASpeedThatNobodyTellsIsNotZero) {
  std::string scenario = swept_scenario();
  scenario.replace(scenario.find(", 0x0D]"), 7, "]");
  SweptCar car(scenario, kRange);
  car.agree();
  car.run_for(1min);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
  EXPECT_EQ(car.status(), "not begun yet: no unit tells the vehicle's speed (parameter 0D)");
}

TEST(LiveSweepTest, ThePlugMustBeIn) {
  SweptCar car(swept_scenario(), kRange);
  car.agree();
  car.enter(std::string(kPlugOut));
  car.run_for(20s);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
  EXPECT_EQ(car.status(), "not begun yet: the plug is out: put it in first");
  car.enter(std::string(kPlugIn));
  car.run_for(5s);
  EXPECT_THAT(car.identifiers_asked(), Not(IsEmpty()));
}

TEST(LiveSweepTest, APlugThatWasOutWhenTheJobWasLeftIsStillOut) {
  SweptCar car(swept_scenario(), kRange);
  car.enter(std::string(kPlugOut));
  car.run_for(5s);
  car.leave_and_go_on(10s);
  car.agree();
  car.run_for(20s);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
}

TEST(LiveSweepTest, FaultCodesAreReadBeforeTheFirstIdentifier) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_for(1s);
  ASSERT_THAT(car.identifiers_asked(), Not(IsEmpty()));
  const TimePoint first = car.identifiers_asked().front().at;
  std::set<std::string> before;
  for (const auto& one : car.asked())
    if (one.at < first) before.insert(one.payload);
  EXPECT_THAT(before, Contains("03"));
  EXPECT_THAT(before, Contains("07"));
  EXPECT_THAT(before, Contains("1902AF"));
}

TEST(LiveSweepTest, WhereNoUnitTellsItsFaultCodesItDoesNotBegin) {
  std::string scenario = swept_scenario();
  for (std::size_t at = 0; (at = scenario.find("[ecu.memory]")) != std::string::npos;) {
    const std::size_t end = std::min(scenario.find("[[ecu]]", at), scenario.find("[[ecu.did]]", at));
    scenario.erase(at, end - at);
  }
  SweptCar car(scenario, kRange);
  car.agree();
  car.run_for(1min);
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
  EXPECT_EQ(car.status(), "not begun yet: no unit tells its fault codes");
}

// ---- what ends it ----

/// The sweep ended after `happened` with this note, asked for nothing more, and the job went on.
void expect_stopped(SweptCar& car, TimePoint happened, const std::string& note, Duration within) {
  ASSERT_EQ(car.notes().size(), 2U) << car.status();
  EXPECT_EQ(car.notes().back(), note);
  EXPECT_THAT(car.identifiers_asked(happened + within), IsEmpty());
  EXPECT_FALSE(car.sweep().goes_on());
  const TimePoint from = car.now();
  car.run_for(10s);
  EXPECT_THAT(car.asked(from), Not(IsEmpty())) << "the readings of the job";
  EXPECT_THAT(car.identifiers_asked(from), IsEmpty());
  for (const auto& one : car.asked(from))
    EXPECT_TRUE(one.payload.starts_with("01") || one.payload.starts_with("09")) << one.payload;
}

TEST(LiveSweepTest, AVehicleThatBeginsToMoveEndsIt) {
  SweptCar car(swept_scenario(event_at(20, "what = \"vehicle_speed\"\nkm_h = 3")), kRange);
  begin(car);
  car.run_for(25s);
  expect_stopped(car, kJobStart + 20s, "sweep stopped: the vehicle moves", 1500ms);
  EXPECT_EQ(car.status(), "stopped: the vehicle moves");
}

TEST(LiveSweepTest, AVehicleThatStandsAgainIsNotAskedAgain) {
  SweptCar car(swept_scenario(event_at(20, "what = \"vehicle_speed\"\nkm_h = 3") +
                              event_at(23, "what = \"vehicle_speed\"\nkm_h = 0")),
               kRange);
  begin(car);
  car.run_for(40s);
  EXPECT_THAT(car.identifiers_asked(kJobStart + 22s), IsEmpty());
}

TEST(LiveSweepTest, APlugThatComesOutEndsItAtOnce) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_for(5s);
  car.enter(std::string(kPlugOut));
  const TimePoint out = car.now();
  car.run_for(5s);
  expect_stopped(car, out, "sweep stopped: the plug came out", 100ms);
}

TEST(LiveSweepTest, AStoredCodeThatAppearsEndsIt) {
  SweptCar car(swept_scenario(event_at(20, "what = \"code_sets\"\necu = \"engine\"\ncode = \"P0301\"")),
               kRange);
  begin(car);
  car.run_for(80s);
  expect_stopped(car, kJobStart + 20s, "sweep stopped: fault code P0301 of 7E8 appeared", 32s);
}

TEST(LiveSweepTest, ACodeOfTheSweptUnitInItsOwnFormEndsItToo) {
  SweptCar car(swept_scenario(event_at(20, "what = \"code_sets\"\necu = \"gearbox\"\ncode = \"P0711-1F\"")),
               kRange);
  begin(car);
  car.run_for(80s);
  expect_stopped(car, kJobStart + 20s, "sweep stopped: fault code P0711-1F of 7E9 appeared", 32s);
}

TEST(LiveSweepTest, ACodeThatWasThereBeforeEndsNothing) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_for(3min);
  EXPECT_TRUE(car.sweep().goes_on()) << car.status();
  EXPECT_GE(counts(car.asked())["03"], 5) << "they are read all the time";
}

TEST(LiveSweepTest, AUnitThatStartsAgainIsLeftAlone) {
  SweptCar car(swept_scenario(event_at(20, "what = \"ecu_resets\"\necu = \"gearbox\"\ntakes_s = 1.5")),
               kRange);
  begin(car);
  car.run_for(40s);
  ASSERT_EQ(car.notes().size(), 2U) << car.status();
  EXPECT_THAT(car.notes().back(),
              StartsWith("sweep of 7E1 stopped: it does not answer any more, not even what it has "
                         "answered before (22 1A"));
  for (const auto& one : car.asked(kJobStart + 21s)) EXPECT_NE(one.to, standard_id(0x7E1)) << one.payload;
  EXPECT_FALSE(car.sweep().goes_on());
}

TEST(LiveSweepTest, AnotherUnitIsAskedOnWhenOneIsLeftAlone) {
  SweptCar car(swept_scenario(event_at(20, "what = \"ecu_resets\"\necu = \"gearbox\"\ntakes_s = 1.5")),
               {"7E1:1A00-1AFF", "7E0:F400-F4FF"});
  begin(car);
  car.run_for(2min);
  EXPECT_TRUE(car.sweep().goes_on());
  EXPECT_THAT(car.status(), HasSubstr("7E1 stopped"));
  EXPECT_GT(car.identifiers_asked(kJobStart + 30s).size(), 40U);
  for (const auto& one : car.asked(kJobStart + 22s)) EXPECT_NE(one.to, standard_id(0x7E1)) << one.payload;
}

TEST(LiveSweepTest, AUnitThatSaysThreeTimesThatItIsBusyIsLeftAlone) {
  std::string more;
  for (int id = 0x1A20; id < 0x1A26; ++id)
    more += "[[ecu.did]]\ndid = " + std::to_string(id) + "\nrefuse = 0x21\n";
  SweptCar car(swept_scenario(more), kRange);
  begin(car);
  car.run_for(30s);
  EXPECT_THAT(car.notes().back(),
              HasSubstr("sweep of 7E1 stopped: it said 3 times in a row that it is busy"));
  const auto asked = counts(car.identifiers_asked());
  EXPECT_TRUE(asked.contains("221A22"));
  EXPECT_FALSE(asked.contains("221A23"));
}

TEST(LiveSweepTest, ConditionsNotCorrectThreeTimesInARowIsTheSame) {
  std::string more;
  for (int id = 0x1A20; id < 0x1A26; ++id)
    more += "[[ecu.did]]\ndid = " + std::to_string(id) + "\nrefuse = 0x22\n";
  SweptCar car(swept_scenario(more), kRange);
  begin(car);
  car.run_for(30s);
  EXPECT_THAT(car.notes().back(),
              HasSubstr("it said 3 times in a row that conditions are not right for an answer"));
}

TEST(LiveSweepTest, WithoutTheSpeedItWaitsAndThenEnds) {
  SweptCar car(swept_scenario(event_at(20, "what = \"ecu_silent\"\necu = \"engine\"")), kRange);
  begin(car);
  car.run_until_status("waits: the vehicle's speed is not known", 30s);
  const TimePoint from = car.now();
  EXPECT_LE(from, kJobStart + 25s);
  car.run_for(20s);
  EXPECT_THAT(car.identifiers_asked(from), IsEmpty());
  EXPECT_EQ(car.notes().back(), "sweep stopped: the vehicle's speed is not known");
}

TEST(LiveSweepTest, AShortSilenceOfTheSpeedOnlyMakesItWait) {
  SweptCar car(swept_scenario(event_at(20, "what = \"ecu_silent\"\necu = \"engine\"") +
                              event_at(27, "what = \"ecu_speaks\"\necu = \"engine\"")),
               kRange);
  begin(car);
  car.run_for(60s);
  EXPECT_TRUE(car.sweep().goes_on()) << car.status();
  EXPECT_THAT(car.identifiers_asked(kJobStart + 45s), Not(IsEmpty()));
  std::size_t once = 0;
  for (const auto& [payload, count] : counts(car.identifiers_asked())) once += count == 1 ? 1 : 0;
  EXPECT_EQ(once, 236U) << "what was refused, before and after";
}

TEST(LiveSweepTest, WhereNobodyIsItGivesUp) {
  SweptCar car(swept_scenario(), {"7E5:1A00-1AFF"});
  begin(car);
  car.run_for(30s);
  EXPECT_EQ(car.notes().back(), "sweep of 7E5 stopped: it has not answered any of 16 questions");
}

TEST(LiveSweepTest, AnIdentifierThatTheGuardKeepsBackEndsItWithTheReason) {
  SweptCar car(swept_scenario(), {"6F1:1A00-1AFF"});
  car.agree();
  car.run_for(10s);
  EXPECT_EQ(car.notes().back(),
            "sweep of 6F1 stopped: this identifier is not on the list of request identifiers");
  EXPECT_THAT(car.identifiers_asked(), IsEmpty());
}

TEST(LiveSweepTest, OfTwoUnitsTheOneThatTheGuardKeepsBackIsTakenOutOnce) {
  SweptCar car(swept_scenario(), {"6F1:1A00-1A0F", "7E1:1A00-1A0F"});
  car.agree();
  car.run_for(60s);
  const auto notes = car.notes();
  EXPECT_EQ(std::count_if(notes.begin(), notes.end(),
                          [](const std::string& note) { return note.starts_with("sweep of 6F1 stopped"); }),
            1);
  EXPECT_TRUE(car.sweep().goes_on());
}

TEST(LiveSweepTest, WhereNoUnitIsLeftItIsSaidWhyOfEach) {
  SweptCar car(swept_scenario(), {"7E5:1A00-1AFF", "7E6:1A00-1AFF"});
  begin(car);
  car.run_for(60s);
  EXPECT_EQ(car.status(),
            "stopped: no unit is left to be asked; 7E5: it has not answered any of 16 questions; 7E6: it has "
            "not answered any of 16 questions");
}

TEST(LiveSweepTest, AQuestionThatIsOnItsWayWhenItBeginsToWaitIsNotTakenBack) {
  std::string slow = swept_scenario(event_at(20, "what = \"ecu_silent\"\necu = \"engine\""));
  const std::string gearbox = "id = \"gearbox\"\n";
  slow.insert(slow.find(gearbox) + gearbox.size(), "answer_after_s = 0.1\n");
  SweptCar car(slow, kRange);
  begin(car);
  while (car.now() < kJobStart + 30s && !car.status().starts_with("waits")) car.run_for(1ms);
  ASSERT_THAT(car.status(), StartsWith("waits"));
  const auto asked = car.identifiers_asked();
  ASSERT_LT(car.now() - asked.back().at, 100ms) << "it has not been answered yet";
  EXPECT_EQ(car.sweep().progress().asked, counts(asked).size());
}

TEST(LiveSweepTest, OfTwoUnitsEachIsAskedWhenItIsDue) {
  // What warms is due every three seconds, whatever the other unit has.
  for (const bool warms_first : {true, false}) {
    std::string two = swept_scenario();
    two.insert(two.find("[[ecu]]\nid = \"gearbox\""), "[[ecu.did]]\ndid = 0x1A01\nhex = \"00\"\n");
    SweptCar car(two, warms_first ? std::vector<std::string>{"7E1:1A00", "7E0:1A01"}
                                  : std::vector<std::string>{"7E0:1A01", "7E1:1A00"});
    begin(car);
    car.run_for(2min);
    const TimePoint from = car.now();
    car.run_for(1min);
    std::vector<SweptCar::Asked> warm = car.identifiers_asked(from);
    std::erase_if(warm, [](const SweptCar::Asked& one) { return one.payload != "221A00"; });
    int in_time = 0;
    for (std::size_t i = 1; i < warm.size(); ++i) in_time += warm[i].at - warm[i - 1].at < 3100ms ? 1 : 0;
    EXPECT_GE(in_time, 15) << "fault codes are read in between";
  }
}

// ---- the record ----

TEST(LiveSweepTest, TheReplayedRecordTellsTheSame) {
  SweptCar car(swept_scenario(event_at(100, "what = \"vehicle_speed\"\nkm_h = 3")), kRange);
  begin(car);
  car.run_for(2min);
  FlowRun replayed(car.items());
  EXPECT_EQ(replayed.lines(), car.lines());
  EXPECT_THAT(replayed.lines(), Contains(HasSubstr("sweep stopped: the vehicle moves")));
}

TEST(LiveSweepTest, AJobThatIsGoneOnWithAsksNothingTwiceThatWasAnsweredOrRefused) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_for(14s);  // about half of the first pass
  const auto first_part = counts(car.identifiers_asked());
  ASSERT_GT(first_part.size(), 80U);
  ASSERT_LT(first_part.size(), 200U);
  car.leave_and_go_on(30s);
  const TimePoint again = car.now();
  car.run_for(10s);
  EXPECT_THAT(car.identifiers_asked(again), IsEmpty()) << "the consent was for the first part";
  car.agree();
  car.run_until_status("pass 2");
  const auto all = counts(car.identifiers_asked());
  EXPECT_EQ(all.size(), 256U);
  int twice = 0;
  for (const auto& [payload, count] : all) twice += count - 1;
  EXPECT_LE(twice, 1) << "the one that was on its way when the program stopped";
  EXPECT_EQ(car.sweep().progress().answering, 20U);
}

TEST(LiveSweepTest, AJobThatIsGoneOnWithAfterItsFirstPassPollsAtOnce) {
  SweptCar car(swept_scenario(), kRange);
  begin(car);
  car.run_until_status("pass 2");
  car.run_for(2min);
  car.leave_and_go_on(1min);
  const TimePoint again = car.now();
  car.agree();
  car.run_for(1min);
  const auto asked = counts(car.identifiers_asked(again));
  EXPECT_EQ(asked.size(), 20U);
  EXPECT_GE(car.sweep().progress().promising, 5U) << "known from before";
}

}  // namespace
}  // namespace sumplog::testing
