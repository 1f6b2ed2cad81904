#include "core/record/open_items.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "core/job/stages.h"

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr TimePoint kAt = at_micros(1700000000000000);

class OpenItemsTest : public ::testing::Test {
 protected:
  OpenItemsTest() {
    for (const std::string_view stage : kStages)
      record_.stages.push_back({std::string(stage), {}, false, {}});
  }
  StageRecord& stage(std::string_view name) {
    for (StageRecord& one : record_.stages)
      if (one.stage == name) return one;
    ADD_FAILURE() << "no stage " << name;
    return record_.stages.front();
  }
  void done(std::string_view name) { stage(name).visits.push_back({kAt, kAt, false}); }
  /// Everything as it should be after a good job on a converter automatic.
  void a_good_job() {
    for (const std::string_view one : kStages) done(one);
    record_.transmission = "converter";
    record_.codes_before = ScanRecord{"before", kAt, true, {}, {"7E9"}, {}, {}, {}};
    record_.codes_after = ScanRecord{"after", kAt, true, {}, {"7E9"}, {}, {}, {}};
    VerdictEvent verdict;
    verdict.kept = true;
    verdict.level_seen = LevelSeen{"drip", {}, "K.", "drip", true};
    record_.verdicts = {verdict};
    record_.balance = BalanceEvent{};
    record_.balance->out_l = 4.5;
    record_.balance->reference_c = 20;
  }
  std::vector<std::string> names() const {
    std::vector<std::string> names;
    for (const OpenDuty& one : open_duties(record_)) names.push_back(one.item);
    return names;
  }
  std::string text_of_item(const std::string& item) const {
    for (const OpenDuty& one : open_duties(record_))
      if (one.item == item) return one.text;
    return "";
  }
  /// State of an item after somebody settled it.
  OpenItem settled(const std::string& item, Settlement with) {
    for (const OpenDuty& one : open_duties(record_))
      if (one.item == item) with.about = one.about;
    settled_[item] = std::move(with);
    return now(item);
  }
  OpenItem now(const std::string& item) const {
    for (const OpenItem& one : open_items(open_duties(record_), typed_, settled_))
      if (one.item == item) return one;
    return {};
  }

  JobRecord record_;
  std::vector<OpenItem> typed_;
  std::map<std::string, Settlement> settled_;
};

TEST_F(OpenItemsTest, AJobWithoutWorkOnTheFluidLeavesNothing) {
  EXPECT_THAT(names(), IsEmpty());
  done("reception");
  done("codes before");
  EXPECT_THAT(names(), IsEmpty());
}

TEST_F(OpenItemsTest, AfterAGoodJobOnlyWhatNoBusShowsIsLeft) {
  a_good_job();
  EXPECT_THAT(names(), ElementsAre("adaptation", "fluid counter", "waste", "safety list"));
}

TEST_F(OpenItemsTest, TheKindOfTransmissionChangesTheList) {
  a_good_job();
  record_.transmission = "hybrid";
  EXPECT_THAT(names(), ElementsAre("maintenance mode", "fluid counter", "waste", "safety list"));
  record_.transmission = "dry dct";
  EXPECT_THAT(names(), ElementsAre("adaptation", "waste", "safety list"));
  record_.transmission = "wet dct";
  EXPECT_THAT(names(), ElementsAre("adaptation", "fluid counter", "waste", "safety list"));
  record_.transmission = "cvt";
  EXPECT_THAT(text_of_item("fluid counter"), HasSubstr("CVT"));
  record_.transmission = "";
  EXPECT_THAT(names(), ElementsAre("transmission", "adaptation", "fluid counter", "waste", "safety list"));
}

TEST_F(OpenItemsTest, CodesThatWereThereBeforeAndCodesThatAreNewAreNamed) {
  record_.codes_before =
      ScanRecord{"before", kAt, true, {}, {}, {}, {}, {{"7E9", "P0711", {"stored"}, "", ""}}};
  EXPECT_EQ(text_of_item("codes before"),
            "codes that were there before the work, for the customer: 7E9 P0711");
  record_.compared = ComparedEvent{};
  record_.compared->lines = {{"7E9", "P0711", CodeChange::same, {}, {}},
                             {"7E8", "P0562", CodeChange::appeared, {}, {"stored"}}};
  EXPECT_EQ(text_of_item("new codes"), "codes that are there only after the work: 7E8 P0562");
}

TEST_F(OpenItemsTest, AScanThatIsMissingOrNotCompleteIsListedWithItsReason) {
  a_good_job();
  record_.codes_before.reset();
  record_.codes_after->complete = false;
  record_.codes_after->why = {"7E9 is silent"};
  EXPECT_EQ(text_of_item("scan before"), "fault codes before the work: not read");
  EXPECT_EQ(text_of_item("scan after"),
            "fault codes after the work: the scan is not complete: 7E9 is silent");
  EXPECT_EQ(text_of_item("scan before"), "fault codes before the work: not read");
  stage("codes before").visits.clear();
  stage("codes before").skipped = true;
  stage("codes before").skipped_why = "battery flat";
  EXPECT_EQ(text_of_item("scan before"), "fault codes before the work: left out: battery flat");
}

TEST_F(OpenItemsTest, WithoutAReasonTheReasonIsLeftOut) {
  a_good_job();
  record_.codes_after->complete = false;
  EXPECT_EQ(text_of_item("scan after"), "fault codes after the work: the scan is not complete");
  stage("road test after").visits.clear();
  stage("road test after").skipped = true;
  EXPECT_EQ(text_of_item("road test after"), "road test after: left out");
}

TEST_F(OpenItemsTest, ARecordThatKnowsNoStagesHasDoneNone) {
  a_good_job();
  record_.stages.clear();
  record_.codes_before.reset();
  EXPECT_EQ(text_of_item("road test before"), "road test before: not done");
  EXPECT_EQ(text_of_item("scan before"), "fault codes before the work: not read");
  record_.balance.reset();
  record_.verdicts.clear();
  EXPECT_THAT(names(), IsEmpty()) << "and no work on the fluid";
}

TEST_F(OpenItemsTest, WhereNoCodeIsNewNothingIsListed) {
  record_.codes_before = ScanRecord{"before", kAt, true, {}, {}, {}, {}, {}};
  record_.compared = ComparedEvent{};
  record_.compared->lines = {{"7E9", "P0711", CodeChange::gone, {"stored"}, {}}};
  EXPECT_THAT(names(), IsEmpty());
}

TEST_F(OpenItemsTest, ATypedItemOfTheNameOfADutyIsThatDuty) {
  a_good_job();
  typed_.push_back({"waste", "take it away", false, OpenItemState::open, "", "", ""});
  EXPECT_TRUE(now("waste").automatic);
  EXPECT_EQ(open_items(open_duties(record_), typed_, settled_).size(), names().size());
}

TEST_F(OpenItemsTest, WasteMayBeSignedOverWithoutLitres) {
  a_good_job();
  EXPECT_EQ(settled("waste", {OpenItemState::signed_over, "K.", "", {}, ""}).state,
            OpenItemState::signed_over);
}

TEST_F(OpenItemsTest, ARoadTestThatWasLeftOutIsListed) {
  a_good_job();
  stage("road test after").visits.clear();
  EXPECT_EQ(text_of_item("road test after"), "road test after: not done");
  stage("road test after").skipped = true;
  stage("road test after").skipped_why = "no plates";
  EXPECT_EQ(text_of_item("road test after"), "road test after: left out: no plates");
  stage("road test after").visits.push_back({kAt, {}, false});
  EXPECT_EQ(text_of_item("road test after"), "road test after: begun and not ended");
}

TEST_F(OpenItemsTest, ALevelCheckCountsOnlyWhenKeptAndSeenAndReached) {
  a_good_job();
  EXPECT_EQ(text_of_item("level check"), "");
  record_.verdicts[0].level_seen->reached = false;
  record_.verdicts[0].level_seen->flow = "stream";
  EXPECT_EQ(text_of_item("level check"), "level check: the level is not reached: stream, asked for is drip");
  record_.verdicts[0].level_seen.reset();
  EXPECT_EQ(text_of_item("level check"), "level check: nobody has entered what ran out");
  record_.verdicts[0].kept = false;
  record_.verdicts[0].why = {"engine stopped"};
  EXPECT_EQ(text_of_item("level check"),
            "level check: conditions not kept, repeat the check: engine stopped");
  record_.verdicts.clear();
  EXPECT_EQ(text_of_item("level check"), "level check: not done");
}

TEST_F(OpenItemsTest, WasteIsBookedWithLitresThatAgree) {
  a_good_job();
  EXPECT_EQ(text_of_item("waste"), "book as waste what came out: 4.5 L at 20 °C");
  EXPECT_EQ(settled("waste", {OpenItemState::done, "", "", 4.4, ""}).state, OpenItemState::done);
  const OpenItem wrong = settled("waste", {OpenItemState::done, "", "", 3.0, ""});
  EXPECT_EQ(wrong.state, OpenItemState::open);
  EXPECT_EQ(wrong.missing, "3.0 L are booked, 4.5 L came out");
  const OpenItem bare = settled("waste", {OpenItemState::done, "", "", {}, ""});
  EXPECT_EQ(bare.state, OpenItemState::open);
  EXPECT_EQ(bare.missing, "say the litres, or how it was booked");
  EXPECT_EQ(settled("waste", {OpenItemState::done, "", "in the book", {}, ""}).state, OpenItemState::done);
}

TEST_F(OpenItemsTest, WhatChangesAfterItWasSettledIsOpenAgain) {
  a_good_job();
  EXPECT_EQ(settled("waste", {OpenItemState::done, "", "in the book", {}, ""}).state, OpenItemState::done);
  record_.balance->out_l = 6;
  EXPECT_EQ(now("waste").state, OpenItemState::open);
  EXPECT_EQ(now("waste").missing, "it has changed since");
  EXPECT_EQ(settled("adaptation", {OpenItemState::done, "", "", {}, ""}).state, OpenItemState::done);
  record_.transmission = "wet dct";
  EXPECT_EQ(now("adaptation").state, OpenItemState::done) << "that is the same duty";
}

TEST_F(OpenItemsTest, SigningOverNeedsAName) {
  a_good_job();
  const OpenItem nobody = settled("adaptation", {OpenItemState::signed_over, "", "", {}, ""});
  EXPECT_EQ(nobody.state, OpenItemState::open);
  EXPECT_EQ(nobody.missing, "nobody's name is with it");
  const OpenItem somebody = settled("adaptation", {OpenItemState::signed_over, "K.", "", {}, ""});
  EXPECT_EQ(somebody.state, OpenItemState::signed_over);
  EXPECT_EQ(somebody.by, "K.");
}

TEST_F(OpenItemsTest, TypedOnesStandBelowAndAreSettledTheSameWay) {
  typed_.push_back({"torque", "check the torque of the pan", false, OpenItemState::open, "", "", ""});
  EXPECT_EQ(now("torque").state, OpenItemState::open);
  EXPECT_EQ(settled("torque", {OpenItemState::done, "K.", "10 Nm", {}, ""}).state, OpenItemState::done);
  EXPECT_EQ(now("torque").answer, "10 Nm");
}

}  // namespace
}  // namespace sumplog
