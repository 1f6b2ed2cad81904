#include "core/capture/candump_reader.h"

#include <gmock/gmock.h>

#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;

Reading read(std::string_view text) {
  return read_whole(CaptureForm::candump, text);
}

TEST(CandumpReader, FramesComeInFileOrderAndCommentsAndBlankLinesArePassedOver) {
  const Reading reading = read(
      "# recorded for a test\n"
      "(2.000000) can0 7E8#0102\n"
      "\n"
      "(1.000000) can1 7E8#0304 R\r\n"
      "  # indented\n");
  EXPECT_THAT(reading.items,
              ElementsAre("(0000000002.000000) can0 7E8#0102", "(0000000001.000000) can1 7E8#0304"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(CandumpReader, AnEmptyLogIsClean) {
  EXPECT_EQ(read("").ending.kind, EndKind::clean);
}

TEST(CandumpReader, ALastLineWithoutNewlineIsTornAndDoesNotCount) {
  // It reads well, and yet it may be the beginning of 7E8#0462D105.
  const Reading reading = read("(1.0) can0 7E8#01\n(2.0) can0 7E8#0462");
  EXPECT_THAT(reading.items, ElementsAre("(0000000001.000000) can0 7E8#01"));
  EXPECT_EQ(reading.ending.kind, EndKind::torn);
  EXPECT_EQ(reading.ending.line, 2U);
  EXPECT_EQ(reading.ending.bytes, 19U);
}

TEST(CandumpReader, ALastCommentWithoutNewlineLosesNothing) {
  EXPECT_EQ(read("(1.0) can0 7E8#01\n# end").ending.kind, EndKind::clean);
}

TEST(CandumpReader, ADamagedLineIsSaidWithItsNumberAndReadingGoesOn) {
  const Reading reading = read("(1.5) can0 7E8#01\n(2.0) can0 7E8#0x\n(3.0) can0 7E8#03\nrubbish\n");
  EXPECT_THAT(
      reading.items,
      ElementsAre(
          "(0000000001.500000) can0 7E8#01", "1500000 unreadable 2: a data byte has one digit only",
          "(0000000003.000000) can0 7E8#03",
          "3000000 unreadable 4: a line starts with the time in parentheses, as in (1700000000.123456)"));
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
  EXPECT_EQ(reading.ending.line, 2U);
  EXPECT_EQ(reading.ending.why, "a data byte has one digit only");
  EXPECT_EQ(reading.ending.bad_records, 2U);
}

TEST(CandumpReader, ADamagedLineHasTheTimeOfTheFrameBeforeIt) {
  // The first and the third are of the usual form, the second is not: whichever way a line is read, its time counts.
  for (const std::string before :
       {"(1700000000.000001) can0 7E8#01\n", "(1700000000.000001) can0 7E8#01 R\n"}) {
    const auto reader = make_candump_reader();
    reader->on_bytes(before + "(1700000000.0000");
    ASSERT_NE(reader->next(), nullptr);
    reader->on_bytes("02) can0 7E8#0\n");
    const Item* const item = reader->next();
    ASSERT_NE(item, nullptr);
    ASSERT_TRUE(std::holds_alternative<Unreadable>(*item));
    EXPECT_EQ(time_of(*item), at_micros(1700000000000001)) << before;
  }
}

TEST(CandumpReader, ATornTailAfterADamagedLineLeavesTheEndingCorrupt) {
  const Reading reading = read("rubbish\n(1.0) can0 7E8#01\n(2.0) can0 7E");
  EXPECT_EQ(reading.ending.kind, EndKind::corrupt);
  EXPECT_EQ(reading.ending.line, 1U);
  EXPECT_EQ(reading.ending.bytes, 13U);
}

TEST(CandumpReader, TwoLongInterfaceNamesThatAreCutAlikeStayTwoBuses) {
  const Reading reading = read(
      "(1.0) serial-adapter-left 7E8#01\n"
      "(2.0) serial-adapter-right 7E8#02\n"
      "(3.0) serial-adapter-left 7E8#03 R\n");
  EXPECT_THAT(reading.items, ElementsAre("(0000000001.000000) serial-adapter- 7E8#01",
                                         "(0000000002.000000) serial-adapte~2 7E8#02",
                                         "(0000000003.000000) serial-adapter- 7E8#03"));
}

TEST(CandumpReader, ALineOfAGigabyteCostsBoundedMemoryAndOneUnreadable) {
  const auto reader = make_candump_reader();
  const std::string piece(1U << 16, 'x');
  reader->on_bytes("(1.0) can0 7E8#01\n");
  ASSERT_TRUE(reader->next());
  for (int i = 0; i < 1 << 14; ++i) {
    reader->on_bytes(piece);
    ASSERT_FALSE(reader->next());
  }
  reader->on_bytes("\n(2.0) can0 7E8#02\n");
  const auto bad = reader->next();
  ASSERT_TRUE(bad);
  EXPECT_EQ(capture_test::text_of(*bad), "1000000 unreadable 2: the line is longer than 1 MiB");
  EXPECT_EQ(capture_test::text_of(*reader->next()), "(0000000002.000000) can0 7E8#02");
  reader->on_end();
  EXPECT_FALSE(reader->next());
  EXPECT_EQ(reader->ending().bad_records, 1U);
}

}  // namespace
}  // namespace sumplog
