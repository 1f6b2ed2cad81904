#include "core/record/job_record.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

TEST(JobRecord, KilometresAndCountsHaveOneDecimal) {
  JobRecord record;
  record.odometer_typed_km = 84210;
  record.odometer_read_km = 84210.36;
  PartRecord part;
  part.part = "filter";
  part.count = 2;
  record.parts.push_back(part);
  const std::string line = json(record);
  EXPECT_THAT(line, HasSubstr(R"("odometer_typed_km":84210.0,)"));
  EXPECT_THAT(line, HasSubstr(R"("odometer_read_km":84210.4,)"));
  EXPECT_THAT(line, HasSubstr(R"({"part":"filter","count":2.0})"));
}

TEST(JobRecord, TheWholeRecordStandsInOneLine) {
  JobRecord record;
  record.vins_read = {{"7E8", "0TESTCAR0FAKE0001"}, {"7E9", "0TESTCAR0FAKE0002"}};
  ScanRecord scan;
  scan.ended = at_micros(1'000'000);
  scan.why = {"a"};
  scan.answered = {"7E8"};
  scan.silent = {"7E9"};
  scan.not_asked = {"x"};
  scan.codes = {{"7E8", "P0711", {"stored"}, "sensor", "stop first"}, {"7E8", "P0712", {}, "", ""}};
  record.codes_before = scan;
  record.codes_after = ScanRecord{};
  record.notes = {{at_micros(2'000'000), "n", "K."}, {at_micros(2'000'000), "m", ""}};
  record.photos = {{at_micros(3'000'000), "a.jpg", "00ff", 12345, "image/jpeg", "magnet"},
                   {at_micros(3'000'000), "b", "1", {}, "", ""}};
  record.open_items = {{"torque", "t", false, OpenItemState::signed_over, "K.", "40 Nm", ""},
                       {"waste", "w", true, OpenItemState::open, "", "", "m"}};
  const std::string line = json(record);
  EXPECT_THAT(line,
              HasSubstr(R"("vin":"0TESTCAR0FAKE0001","vins_read":[{"ecu":"7E8","vin":"0TESTCAR0FAKE0001"},)"
                        R"({"ecu":"7E9","vin":"0TESTCAR0FAKE0002"}],"vin_mismatch":false)"));
  EXPECT_THAT(
      line,
      HasSubstr(R"({"ended_t":1.000000,"complete":false,"why":["a"],"answered":["7E8"],"silent":["7E9"],)"
                R"("not_asked":["x"],"codes":[{"ecu":"7E8","code":"P0711","status":["stored"],)"
                R"("text":"sensor","class":"stop first"},{"ecu":"7E8","code":"P0712"}]})"));
  EXPECT_THAT(line, HasSubstr(R"("codes_after":{"complete":false})"));
  EXPECT_THAT(line, HasSubstr(R"([{"t":2.000000,"text":"n","by":"K."},{"t":2.000000,"text":"m"}])"));
  EXPECT_THAT(
      line,
      HasSubstr(
          R"({"t":3.000000,"file":"a.jpg","sha256":"00ff","bytes":12345,"type":"image/jpeg","of":"magnet"})"));
  EXPECT_THAT(
      line,
      HasSubstr(
          R"({"item":"torque","text":"t","automatic":false,"state":"signed over","by":"K.","answer":"40 Nm"},)"
          R"({"item":"waste","text":"w","automatic":true,"state":"open","missing":"m"})"));
}

TEST(JobRecord, AJobThatIsOverTellsItsStagesVerdictsAndGaps) {
  const TimePoint at = at_micros(1'000'000);
  JobRecord record;
  record.stages = {{"sample", {{at, at, true}}, false, ""},
                   {"drain and parts", {{at, {}, false}}, false, ""},
                   {"exchange", {}, true, "not wanted"},
                   {"closing", {}, false, ""}};
  EXPECT_THAT(json(record), HasSubstr(R"("state":"open","stages":[)"));
  record.ended = at_micros(9'000'000);
  VerdictEvent verdict;
  verdict.kept = true;
  record.verdicts = {verdict, verdict};
  record.gaps = 2;
  record.longest_gap = std::chrono::seconds{7};
  const std::string line = json(record);
  EXPECT_THAT(line, HasSubstr(R"("state":"closed","ended_t":9.000000,)"));
  EXPECT_THAT(
      line,
      HasSubstr(
          R"("stages":[{"stage":"sample","state":"done","visits":[{"begun_t":1.000000,"ended_t":1.000000,"time":"by hand"}]},)"
          R"({"stage":"drain and parts","state":"open","visits":[{"begun_t":1.000000}]},)"
          R"({"stage":"exchange","state":"skipped","why":"not wanted"},{"stage":"closing","state":"not done"}])"));
  const std::string one = journal_line(Event(verdict));
  EXPECT_THAT(line, HasSubstr("\"verdicts\":[" + one + "," + one + "]"));
  EXPECT_THAT(line, HasSubstr(R"("gaps":2,"longest_gap_s":7.000000,)"));
}

}  // namespace
}  // namespace sumplog
