#include "core/job/stages.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class StagesTest : public ::testing::Test {
 protected:
  void enter(const std::string& name, const std::string& fields) {
    stages_.on_entry(Entry{now_, std::to_string(++entries_), name, fields}, events_);
  }
  void begin(const std::string& stage, const std::string& more = "") {
    enter("stage_begun", R"({"stage":")" + stage + "\"" + more + "}");
  }
  void end(const std::string& stage, const std::string& more = "") {
    enter("stage_ended", R"({"stage":")" + stage + "\"" + more + "}");
  }
  std::string current() const { return std::string(stages_.current().value_or("none")); }
  StageEvent last() const { return std::get<StageEvent>(events_.back()); }

  Stages stages_;
  std::vector<Event> events_;
  TimePoint now_ = at_micros(1700000000000000);
  int entries_ = 0;
};

TEST_F(StagesTest, SaysWhatBeganAndEndedAndKnowsWhatIsOpen) {
  EXPECT_EQ(current(), "none");
  begin("refill");
  EXPECT_EQ(last().stage, "refill");
  EXPECT_EQ(last().change, StageChange::begun);
  EXPECT_EQ(current(), "refill");
  end("refill");
  EXPECT_EQ(last().change, StageChange::ended);
  EXPECT_EQ(current(), "none");
}

TEST_F(StagesTest, EachStageOfTheListIsOne) {
  for (const std::string_view stage : kStages) {
    begin(std::string(stage));
    EXPECT_EQ(current(), stage);
    EXPECT_EQ(stage_named(stage), stage);
  }
  EXPECT_EQ(events_.size(), kStages.size());
}

TEST_F(StagesTest, SeveralAreOpenAtOnceAndTheLastBegunIsCurrent) {
  begin("cool down");
  now_ += 60s;
  begin("drain and parts");
  EXPECT_EQ(current(), "drain and parts");
  end("drain and parts");
  EXPECT_EQ(current(), "cool down");
  now_ += 60s;
  begin("refill");
  end("cool down");
  EXPECT_EQ(current(), "refill");
}

TEST_F(StagesTest, AStageMayComeAgainInAnyOrder) {
  begin("hand-over");
  end("hand-over");
  begin("sample");
  end("sample");
  begin("hand-over");
  EXPECT_EQ(current(), "hand-over");
  EXPECT_EQ(events_.size(), 5U);
}

TEST_F(StagesTest, OneThatIsBegunTwiceIsOpenOnceAndMovesToTheFront) {
  begin("cool down");
  now_ += 1s;
  begin("refill");
  now_ += 1s;
  begin("cool down");
  EXPECT_EQ(current(), "cool down");
  end("cool down");
  EXPECT_EQ(current(), "refill") << "one end ends it";
}

TEST_F(StagesTest, WhatWasSkippedSaysWhyAndOpensNothing) {
  enter("stage_skipped", R"({"stage":"road test before","why":"no plates"})");
  EXPECT_EQ(last().change, StageChange::skipped);
  EXPECT_EQ(last().why, "no plates");
  EXPECT_EQ(current(), "none");
}

TEST_F(StagesTest, AnUnknownStageSaysNothing) {
  begin("tea break");
  enter("stage_begun", "{}");
  enter("stage_begun", R"({"stage":7})");
  enter("stage_begun", "no json");
  enter("note", R"({"stage":"refill"})");
  EXPECT_TRUE(events_.empty());
  EXPECT_EQ(current(), "none");
  EXPECT_FALSE(stage_named("Refill"));
}

TEST_F(StagesTest, WhatCameLateTakesItsPlaceInTime) {
  now_ += 600s;
  begin("refill");
  begin("drain and parts", R"(,"ago_s":300)");
  EXPECT_EQ(last().happened, now_ - 300s);
  EXPECT_EQ(current(), "refill") << "the other one began before it";
  now_ += 10s;
  end("refill", R"(,"ago_s":60)");
  EXPECT_EQ(current(), "refill") << "it was begun after that";
  end("refill");
  EXPECT_EQ(current(), "drain and parts");
}

TEST_F(StagesTest, ALateBeginDoesNotMoveOneThatIsOpenAlready) {
  begin("refill");
  now_ += 60s;
  begin("sample");
  begin("refill", R"(,"ago_s":600)");
  EXPECT_EQ(current(), "sample");
  end("sample");
  EXPECT_EQ(current(), "refill");
}

TEST_F(StagesTest, AnEndWithoutABeginIsSaidAsThePersonSaysIt) {
  end("exchange");
  EXPECT_EQ(last().change, StageChange::ended);
  EXPECT_EQ(current(), "none");
}

}  // namespace
}  // namespace sumplog
