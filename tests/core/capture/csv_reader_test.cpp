#include "core/capture/csv_reader.h"

#include <gmock/gmock.h>

#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;

Reading read(std::string_view text) {
  return read_whole(CaptureForm::csv, text);
}

TEST(CsvReader, EachFieldIsAReadingAndAnEmptyOneIsAskedWithoutAValue) {
  const Reading reading = read("t_s,temp_c,rpm,speed_kmh,coolant_c\n0,-1,,,\n0.898,-0.5,780,0,12\n");
  EXPECT_THAT(reading.items, ElementsAre("0 fluid_temperature=-1", "0 engine_speed=", "0 vehicle_speed=",
                                         "0 coolant_temperature=", "898000 fluid_temperature=-0.5",
                                         "898000 engine_speed=780", "898000 vehicle_speed=0",
                                         "898000 coolant_temperature=12"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(CsvReader, ColumnsMayStandInAnyOrder) {
  EXPECT_THAT(read("rpm,temp_c,t_s\n780,40,1.5\n").items,
              ElementsAre("1500000 engine_speed=780", "1500000 fluid_temperature=40"));
}

TEST(CsvReader, QuotesBlanksCarriageReturnsAndAByteOrderMarkAreAccepted) {
  // RFC 4180: CRLF, quoted fields; the mark is what spreadsheets put first.
  EXPECT_THAT(read("\xEF\xBB\xBF\"t_s\",\"temp_c\"\r\n\"0.5\", 40 \r\n").items,
              ElementsAre("500000 fluid_temperature=40"));
}

TEST(CsvReader, TimesMayBeNegativeAndGoBack) {
  EXPECT_THAT(read("t_s,temp_c\n5,40\n-1.25,39\n").items,
              ElementsAre("5000000 fluid_temperature=40", "-1250000 fluid_temperature=39"));
}

TEST(CsvReader, ABadRowIsLeftOutAsAWholeAndSaid) {
  const Reading reading = read(
      "t_s,temp_c,rpm\n"
      "0,40,800\n"
      "1,forty,800\n"
      "2,40,nan\n"
      "3,40\n"
      "4,40,800,\n"
      ",40,800\n"
      "1e3,40,800\n"
      "5,41,inf\n"
      "6,41,+810\n");
  EXPECT_THAT(reading.items,
              ElementsAre("0 fluid_temperature=40", "0 engine_speed=800",
                          "0 unreadable 3: 'forty' is not a number", "0 unreadable 4: 'nan' is not a number",
                          "0 unreadable 5: the row has 2 fields, the header has 3",
                          "0 unreadable 6: the row has 4 fields, the header has 3",
                          "0 unreadable 7: t_s is '', not a number of seconds",
                          "0 unreadable 8: t_s is '1e3', not a number of seconds",
                          "0 unreadable 9: 'inf' is not a number", "6000000 fluid_temperature=41",
                          "6000000 engine_speed=810"));
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
  EXPECT_EQ(reading.ending.line, 3U);
  EXPECT_EQ(reading.ending.bad_records, 7U);
}

TEST(CsvReader, ALastRowWithoutNewlineDoesNotCountBecauseItsNumberMayBeCut) {
  const Reading reading = read("t_s,temp_c\n0,40\n1,4");
  EXPECT_THAT(reading.items, ElementsAre("0 fluid_temperature=40"));
  EXPECT_EQ(reading.ending.kind, EndKind::torn);
  EXPECT_EQ(reading.ending.line, 3U);
}

TEST(CsvReader, ALastLineOfMoreThanAMebibyteIsTornWithItsLength) {
  const Reading reading = read("t_s,temp_c\n0,40\n" + std::string(std::size_t{2} << 20, ' '));
  EXPECT_EQ(reading.items.size(), 1U);
  EXPECT_EQ(reading.ending.kind, EndKind::torn);
  EXPECT_EQ(reading.ending.bytes, std::uint64_t{2} << 20);
}

TEST(CsvReader, CommentsArePassedOverWhereverTheyStand) {
  const Reading reading = read("# by hand\nt_s,temp_c\n0,40\n# pause\n1,41\n# end");
  EXPECT_THAT(reading.items, ElementsAre("0 fluid_temperature=40", "1000000 fluid_temperature=41"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(CsvReader, AQuoteWithoutItsOtherOneAndANumberThatNoDoubleHoldsAreSaid) {
  EXPECT_THAT(read("t_s,temp_c\n0,\"\n1,\"40\n2,40\"\n3,1e999\n4,4 0\n").unreadable(),
              ElementsAre("0 unreadable 2: '\"' is not a number", "0 unreadable 3: '\"40' is not a number",
                          "0 unreadable 4: '40\"' is not a number", "0 unreadable 5: '1e999' is not a number",
                          "0 unreadable 6: '4 0' is not a number"));
}

TEST(CsvReader, AWrongHeaderIsSaidOnceAndNothingIsGuessed) {
  EXPECT_THAT(
      read("t_s,oil\n0,40\n1,40\n").items,
      ElementsAre(
          "0 unreadable 1: column 'oil' is not known; t_s, temp_c, rpm, speed_kmh and coolant_c are"));
  EXPECT_THAT(read("t_s,rpm\n0,40\n").items, ElementsAre("0 unreadable 1: column 'temp_c' is missing"));
  EXPECT_THAT(read("temp_c\n40\n").items, ElementsAre("0 unreadable 1: column 't_s' is missing"));
  EXPECT_THAT(read("t_s,temp_c,temp_c\n0,1,2\n").items,
              ElementsAre("0 unreadable 1: column 'temp_c' stands twice"));
}

}  // namespace
}  // namespace sumplog
