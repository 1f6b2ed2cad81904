#include "app/entry_desk.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

TimePoint at_s(double s) {
  return at_micros(1'700'000'000'000'000 + static_cast<std::int64_t>(s * 1e6));
}

class EntryDeskTest : public ::testing::Test {
 protected:
  WebReply reply() {
    return [this](const WebAnswer& answer) {
      answers.push_back(std::to_string(answer.status) + " " + answer.body);
    };
  }
  void enter(const std::string& id, const std::string& fields = "{}", double at = 0,
             const std::string& trouble = {}) {
    desk.enter({id, "plug_out", fields}, at_s(at), trouble, reply());
  }
  std::vector<std::string> answers;
  std::vector<std::pair<std::string, Recorder::Token>> submitted;
  bool full = false;
  EntryDesk desk{[this](Item item, Recorder::Token token) -> Result<void> {
    if (full) return fault("too much waits");
    submitted.emplace_back(std::get<Entry>(item).id, token);
    return {};
  }};
};

TEST_F(EntryDeskTest, AnEntryIsAnsweredWhenItIsSyncedAndNotBefore) {
  enter("a");
  ASSERT_EQ(submitted.size(), 1U);
  EXPECT_TRUE(answers.empty());
  desk.on_synced({submitted[0].second});
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_EQ(answers[0], "200 {\"id\":\"a\",\"t\":1700000000.000000,\"recorded\":true}\n");
}

TEST_F(EntryDeskTest, ARepeatedIdGetsTheFirstAnswerAndIsRecordedOnce) {
  enter("a");
  enter("a", "{ }", 5);
  desk.on_synced({submitted[0].second});
  enter("a", "{}", 9);
  EXPECT_EQ(submitted.size(), 1U);
  ASSERT_EQ(answers.size(), 3U);
  EXPECT_EQ(answers[0], answers[1]);
  EXPECT_EQ(answers[0], answers[2]);
}

TEST_F(EntryDeskTest, ARepeatedIdOfThePastOfTheJobGetsItsAnswerToo) {
  desk.remember(Entry{at_s(3), "a", "plug_out", R"({"by":"K.","ago_s":40})"});
  enter("a", R"({"ago_s":40.0,"by":"K."})", 100);
  EXPECT_TRUE(submitted.empty());
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_EQ(answers[0], "200 {\"id\":\"a\",\"t\":1700000003.000000,\"recorded\":true}\n");
}

TEST_F(EntryDeskTest, AnotherEntryUnderAKnownIdIsAMistakeAndSaid) {
  enter("a");
  enter("a", R"({"by":"K."})");
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_THAT(answers[0],
              HasSubstr("409 {\"error\":\"another entry has this id already\",\"where\":\"id a\""));
}

TEST_F(EntryDeskTest, WhileTheDiskFailsTheEntryIsTakenAndTheAnswerIsNotYet) {
  enter("a", "{}", 0, "no room");
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_THAT(answers[0], HasSubstr("503 {\"error\":\"not recorded yet: no room\""));
  EXPECT_EQ(submitted.size(), 1U) << "the alarms hold, though nothing is recorded";
  enter("a", "{}", 1, "no room");
  EXPECT_EQ(submitted.size(), 1U);
  enter("a", "{}", 2);
  desk.on_synced({submitted[0].second});
  ASSERT_EQ(answers.size(), 3U);
  EXPECT_EQ(answers[2], "200 {\"id\":\"a\",\"t\":1700000000.000000,\"recorded\":true}\n");
}

TEST_F(EntryDeskTest, ADiskThatFailsLaterAnswersAllWhoWait) {
  enter("a");
  enter("b");
  desk.on_trouble("no room");
  ASSERT_EQ(answers.size(), 2U);
  EXPECT_THAT(answers[1], HasSubstr("503"));
}

TEST_F(EntryDeskTest, NobodyWaitsLongerThanTenSeconds) {
  enter("a");
  ASSERT_EQ(desk.deadline(), at_s(10));
  desk.on_time(at_s(9.9));
  EXPECT_TRUE(answers.empty());
  desk.on_time(at_s(10));
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_THAT(answers[0], HasSubstr("503 {\"error\":\"not recorded yet: the disk is slow\""));
  EXPECT_EQ(desk.deadline(), std::nullopt);
}

TEST_F(EntryDeskTest, AnEntryForWhichThereIsNoRoomIsRefusedAndMayComeAgain) {
  full = true;
  enter("a");
  ASSERT_EQ(answers.size(), 1U);
  EXPECT_THAT(answers[0], HasSubstr("503 {\"error\":\"too much waits\""));
  full = false;
  enter("a");
  EXPECT_EQ(submitted.size(), 1U);
}

}  // namespace
}  // namespace sumplog
