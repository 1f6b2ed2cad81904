#include "core/capture/asc_reader.h"

#include <gmock/gmock.h>

#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;
using testing::IsEmpty;

Reading read(const std::string& text) {
  return read_whole(CaptureForm::asc, text);
}

// 1700000000 is 2023-11-14 22:13:20 UTC.
const std::string kHead =
    "date Tue Nov 14 10:13:20.000 pm 2023\nbase hex  timestamps absolute\ninternal events logged\n";
const std::string kRelative = "date Tue Nov 14 10:13:20.000 pm 2023\nbase hex  timestamps relative\n";

// Line forms: can-utils log2asc.c and asc2log.c, python-can asc.py.

TEST(AscReader, ClassicFramesCountFromTheDateAndChannelOneIsCan0) {
  const Reading reading =
      read(kHead +
           "// version 9.0.0\n"
           "Begin Triggerblock Tue Nov 14 10:13:20.000 pm 2023\n"
           "   0.000000 Start of measurement\n"
           "   0.015991 1  7E8             Rx   d 8 03 41 05 7B 00 00 00 00\n"
           "   1.5      2  18DAF110x       Tx   d 2 01 02  Length = 228016 BitCount = 117 ID = 545\n"
           "   2.000000 1  123x            Rx   d 0\n"
           "End TriggerBlock\n");
  EXPECT_THAT(reading.items,
              ElementsAre("(1700000000.015991) can0 7E8#0341057B00000000",
                          "(1700000001.500000) can1 18DAF110#0102", "(1700000002.000000) can0 00000123#"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(AscReader, BaseDecimalHoldsForIdentifierAndData) {
  const Reading reading =
      read("base dec timestamps absolute\n1.0 1 2024 Rx d 2 255 10\n1.0 1 123x Rx d 1 9\n");
  EXPECT_THAT(reading.items,
              ElementsAre("(0000000001.000000) can0 7E8#FF0A", "(0000000001.000000) can0 0000007B#09"));
}

TEST(AscReader, RelativeTimesAddUpOverEveryEvent) {
  const Reading reading = read(kRelative +
                               "0.100000 1 100 Rx d 1 01\n"
                               "0.200000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\n"
                               "0.300000 1 100 Rx d 1 02\n");
  EXPECT_THAT(reading.items,
              ElementsAre("(1700000000.100000) can0 100#01", "(1700000000.600000) can0 100#02"));
}

TEST(AscReader, RemoteFramesCarryALengthOrNone) {
  EXPECT_THAT(read(kHead + "1.0 1 100 Rx r\n"
                           "1.0 1 100 Rx r 8\n"
                           "1.0 1 100 Tx r Length = 1704000 BitCount = 145 ID = 88888888x\n"
                           "1.0 1 300 Tx r 3 Length = 1704000\n")
                  .items,
              ElementsAre("(1700000001.000000) can0 100#R", "(1700000001.000000) can0 100#R8",
                          "(1700000001.000000) can0 100#R", "(1700000001.000000) can0 300#R3"));
}

TEST(AscReader, LengthCodesAboveEightMeanEightBytes) {
  // ISO 11898-1: a classic frame with DLC 9…15 carries 8 bytes.
  EXPECT_THAT(read(kHead + "1.0 1 3FF Tx d D 55 AA 01 02 03 04 05 06  Length = 232016\n").items,
              ElementsAre("(1700000001.000000) can0 3FF#55AA010203040506"));
  EXPECT_THAT(read("base dec timestamps absolute\n1.0 1 1 Tx d 13 1 2 3 4 5 6 7 8\n").items,
              ElementsAre("(0000000001.000000) can0 001#0102030405060708"));
}

TEST(AscReader, ErrorFramesOfEveryFormSayBusError) {
  // asc2log.c: CAN_ERR_BUSERROR with 8 empty bytes, "do not know more than 'Error'".
  EXPECT_THAT(read(kHead + "1.0 1 ErrorFrame\n"
                           "1.0 1  ErrorFrame ECC: 10100010\n"
                           "1.0 2 ErrorFrame Flags = 0xe CodeExt = 0x20a2 Code = 0x82 ID = 0 DLC = 0 "
                           "Position = 5 Length = 11300\n"
                           "1.0 CANFD 5 Tx ErrorFrame Not Acknowledge error, dominant error flag fffe c7 "
                           "31ca Arb. 556 44 0 0 f\n")
                  .items,
              ElementsAre("(1700000001.000000) can0 20000080#0000000000000000",
                          "(1700000001.000000) can0 20000080#0000000000000000",
                          "(1700000001.000000) can1 20000080#0000000000000000",
                          "(1700000001.000000) can4 20000080#0000000000000000"));
}

TEST(AscReader, CanFdLinesWithAndWithoutASymbolicName) {
  EXPECT_THAT(
      read(kHead +
           "1.0 CANFD   1 Rx        300                    1 0 8  8 11 c2 03 04 05 06 07 08 102203 133 "
           "303000 e0006659 0\n"
           "1.0 CANFD   2 Tx  1C4D80A7x                    0 1 9 12 11 C2 03 04 05 06 07 08 09 0A 0B 0C "
           "102203 133 5000 0\n"
           "1.0 CANFD   3 Rx        30a  Some_Name         1 1 2  2 01 02   102203  133   7000 0 0 0 0 0\n")
          .items,
      ElementsAre("(1700000001.000000) can0 300##111C2030405060708",
                  "(1700000001.000000) can1 1C4D80A7##211C2030405060708090A0B0C",
                  "(1700000001.000000) can2 30A##30102"));
}

TEST(AscReader, TheFdLineMayCarryAClassicFrame) {
  // log2asc.c -f: flags 0 data, 10 remote (data length 0, the length code counts), 1000 CAN FD.
  EXPECT_THAT(read(kHead + "1.0 CANFD 1 Rx 300 0 0 2 2 01 02 130000 130 0 0 0 0 0 0\n"
                           "1.0 CANFD 1 Rx 300 0 0 5 0 130000 130 10 0 0 0 0 0\n"
                           "1.0 CANFD 1 Rx 300 0 0 2 2 01 02 130000 130 1000 0 0 0 0 0\n"
                           "1.0 CANFD 1 Rx 300 0 0 2 2 01 02\n")
                  .items,
              ElementsAre("(1700000001.000000) can0 300#0102", "(1700000001.000000) can0 300#R5",
                          "(1700000001.000000) can0 300##00102", "(1700000001.000000) can0 300##00102"));
}

TEST(AscReader, ALineOfMoreThanEightBytesIsCanFdWhateverItsFlagsSay) {
  EXPECT_THAT(read(kHead + "1.0 CANFD 1 Rx 100 0 0 9 12 00 01 02 03 04 05 06 07 08 09 0A 0B 0 0 0\n"
                           "1.0 CANFD 1 Rx 100 0 1 1 1 01\n")
                  .items,
              ElementsAre("(1700000001.000000) can0 100##0000102030405060708090A0B",
                          "(1700000001.000000) can0 100##201"));
}

TEST(AscReader, EventsThatAreNoFramesArePassedOver) {
  const Reading reading = read(kHead +
                               "   0.000000 Start of measurement\n"
                               "   0.015991 CAN 1 Status:chip status error passive - TxErr: 132 RxErr: 0\n"
                               "   1.015991 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\n"
                               "   1.1 1  OverloadFrame\n"
                               "   1.2 1  J1939TP FEE3p        6    0  0   -   Rx   d 23 A0 0F\n"
                               "   1.3 Li 3c Rx 8 00 01\n"
                               "   1.4 1  100             TxRq d 1 01\n"
                               "   1.5 CANFD 1 TxRq 100 0 0 1 1 01\n"
                               "no internal events logged\n");
  EXPECT_THAT(reading.items, IsEmpty());
  EXPECT_EQ(reading.ending.kind, EndKind::clean);
}

TEST(AscReader, TheFirstTriggerBlockSetsTheStartAndALaterOneOnlyWhenItsStampsBeginAnew) {
  const Reading reading = read(
      "date Tue Nov 14 10:13:00.000 pm 2023\nbase hex timestamps absolute\n"
      "Begin Triggerblock Tue Nov 14 10:13:20.000 pm 2023\n"
      "1.0 1 100 Rx d 1 01\n"
      "End TriggerBlock\n"
      "Begin Triggerblock Tue Nov 14 10:13:25.000 pm 2023\n"
      "5.5 1 100 Rx d 1 02\n"
      "End TriggerBlock\n"
      "Begin Triggerblock Tue Nov 14 10:13:40.000 pm 2023\n"
      "0.5 1 100 Rx d 1 03\n"
      "End TriggerBlock");
  EXPECT_THAT(reading.items, ElementsAre("(1700000001.000000) can0 100#01", "(1700000005.500000) can0 100#02",
                                         "(1700000020.500000) can0 100#03"));
  EXPECT_EQ(reading.ending.kind, EndKind::clean) << "End TriggerBlock without a newline loses nothing";
}

TEST(AscReader, ACommentOfOurOwnNamesAChannel) {
  EXPECT_THAT(read(kHead + "// channel 2 is vcan0\n1.0 2 100 Rx d 1 01\n1.0 1 100 Rx d 1 02\n").items,
              ElementsAre("(1700000001.000000) vcan0 100#01", "(1700000001.000000) can0 100#02"));
}

TEST(AscReader, ACommentThatNamesNoChannelIsAComment) {
  EXPECT_THAT(read(kHead + "// channel two is vcan0\n// channel 2 was vcan0\n// channel 2 is\n// any words\n"
                           "1.0 2 100 Rx d 1 01\n")
                  .items,
              ElementsAre("(1700000001.000000) can1 100#01"));
}

TEST(AscReader, TheLetterOfALongIdentifierMayBeOfEitherCase) {
  EXPECT_THAT(read(kHead + "1.0 1 18DAF110X Rx d 1 01\n").items,
              ElementsAre("(1700000001.000000) can0 18DAF110#01"));
}

TEST(AscReader, ATriggerBlockWithoutADateOfItsOwnCountsOn) {
  const std::string block = "Begin Triggerblock\n1.0 1 100 Rx d 1 01\nEnd TriggerBlock\n";
  EXPECT_THAT(read(kHead + block + block).items,
              ElementsAre("(1700000001.000000) can0 100#01", "(1700000001.000000) can0 100#01"));
}

TEST(AscReader, ALaterTriggerBlockWithADateThatNobodyUnderstandsCountsOnAndThatIsSaid) {
  const Reading reading = read(kHead +
                               "1.0 1 100 Rx d 1 01\n"
                               "Begin Triggerblock someday\n"
                               "0.5 1 100 Rx d 1 02\n");
  EXPECT_EQ(reading.items.size(), 3U);
  EXPECT_EQ(reading.items.back(), "(1700000000.500000) can0 100#02");
  EXPECT_EQ(reading.ending.why,
            "the date 'someday' is not understood; times count from the last date that was");
}

TEST(AscReader, OfRelativeTimesALaterTriggerBlockSetsTheStart) {
  EXPECT_THAT(read(kRelative + "1.0 1 100 Rx d 1 01\n"
                               "Begin Triggerblock Tue Nov 14 10:14:20.000 pm 2023\n"
                               "1.5 1 100 Rx d 1 02\n")
                  .items,
              ElementsAre("(1700000001.000000) can0 100#01", "(1700000061.500000) can0 100#02"));
}

TEST(AscReader, ABaseWithoutAWordOnTimestampsLeavesThemAbsolute) {
  EXPECT_THAT(read("base hex\n1.0 1 100 Rx d 1 01\n1.5 1 100 Rx d 1 02\n").items,
              ElementsAre("(0000000001.000000) can0 100#01", "(0000000001.500000) can0 100#02"));
}

TEST(AscReader, WhatWasOnlyRequestedWasNotOnTheBus) {
  EXPECT_THAT(read(kHead + "1.0 1 100 TxRq d 1 01\n1.0 CANFD 1 TxRq 100 0 0 1 1 01\n").items, IsEmpty());
}

TEST(AscReader, ACommentOrABlanksLineCutAtTheEndIsNoLoss) {
  EXPECT_EQ(read(kHead + "1.0 1 100 Rx d 1 01\n// end of file").ending.kind, EndKind::clean);
  EXPECT_EQ(read(kHead + "1.0 1 100 Rx d 1 01\n   ").ending.kind, EndKind::clean);
}

TEST(AscReader, EachDamagedLineIsSaidAndReadingGoesOn) {
  const auto why = [](const std::string& line) {
    const Reading reading = read("base hex timestamps absolute\n" + line + "\n9.0 1 100 Rx d 1 01\n");
    EXPECT_EQ(reading.items.size(), 2U) << line;
    EXPECT_EQ(reading.ending.kind, EndKind::corrupt) << line;
    EXPECT_EQ(reading.ending.line, 2U) << line;
    return reading.ending.why;
  };
  EXPECT_EQ(why("x.5 1 100 Rx d 1 01"),
            "the line begins neither with a time nor with a word of the form's header");
  EXPECT_EQ(why("9999999999.5 1 100 Rx d 1 01"), "the time is out of range");
  EXPECT_EQ(why("1.0 0 100 Rx d 1 01"), "channel '0' is not one of 1…255");
  EXPECT_EQ(why("1.0 256 100 Rx d 1 01"), "channel '256' is not one of 1…255");
  EXPECT_EQ(why("1.0 CANFD x Rx 100 0 0 1 1 01"), "channel 'x' is not one of 1…255");
  EXPECT_EQ(why("1.0 1 100 Rz d 1 01"), "direction 'Rz' is neither Rx nor Tx");
  EXPECT_EQ(why("1.0 1"), "direction '' is neither Rx nor Tx");
  EXPECT_EQ(why("1.0 CANFD 1 100 Rx 0 0 1 1 01"), "direction '100' is neither Rx nor Tx");
  EXPECT_EQ(why("1.0 1 EngineData Rx d 1 01"),
            "identifier 'EngineData' is not a number; a log with names cannot be read");
  EXPECT_EQ(why("1.0 1 800 Rx d 1 01"), "identifier 800 is out of range");
  EXPECT_EQ(why("1.0 1 20000000x Rx d 1 01"), "identifier 20000000x is out of range");
  EXPECT_EQ(why("1.0 1 100 Rx q 1 01"), "'q' is neither d (data) nor r (remote)");
  EXPECT_EQ(why("1.0 1 100 Rx d 16 01"), "length code '16' is not one of 0…F");
  EXPECT_EQ(why("1.0 1 100 Rx d"), "length code '' is not one of 0…F");
  EXPECT_EQ(why("1.0 1 100 Rx d 2 01"), "data byte 2 of 2 is missing");
  EXPECT_EQ(why("1.0 1 100 Rx d 2 01 100"), "data byte 2 of 2 is '100'");
  EXPECT_EQ(why("1.0 1 100 Rx d 2 01 0g"), "data byte 2 of 2 is '0g'");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 Name 2 0 1 1 01"), "the BRS and ESI columns are not 0 or 1");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 0 10 1 01"), "the length code is not one of 0…F");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 0 f 65 01"), "the data length is not one of 0…64");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 0 2 2 01"), "data byte 2 of 2 is missing");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 2 1 1 01"), "the BRS and ESI columns are not 0 or 1");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 0 x 1 01"), "the length code is not one of 0…F");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 100 0 0 1 x 01"), "the data length is not one of 0…64");
  EXPECT_EQ(why("1.0 CANFD 1 Rx 800 0 0 1 1 01"), "identifier 800 is out of range");
  EXPECT_EQ(why("1.0 CANFD 1 Rx"), "identifier '' is not a number; a log with names cannot be read");
  EXPECT_EQ(why("-9999999999.5 1 100 Rx d 1 01"), "the time is out of range");
  for (const char* line : {"End of file", "internal clock", "no bus", "Begin measurement"})
    EXPECT_EQ(why(line), "the line begins neither with a time nor with a word of the form's header") << line;
  EXPECT_EQ(why("1.0 CANXL 1 Rx CBFF 243215 176 432 8 8"), "CAN XL lines are not read");
  EXPECT_EQ(why("date Tue Foo 14 22:13:20 2023"),
            "the date 'Tue Foo 14 22:13:20 2023' is not understood; times count from the last date that was");
  EXPECT_EQ(why("base oct timestamps absolute"), "base 'oct' is neither hex nor dec");
  EXPECT_EQ(why("base hex timestamps someday"), "timestamps 'someday' are neither absolute nor relative");
}

TEST(AscReader, RelativeTimesThatAddUpWithoutEndAreRefusedBeforeTheyOverflow) {
  std::string text = kRelative;
  for (int i = 0; i < 4000; ++i) text += "3000000000.0 1 100 Rx d 1 01\n";
  const Reading reading = read(text);
  EXPECT_EQ(reading.ending.why, "the time is out of range");
  std::string back = kRelative;
  for (int i = 0; i < 4000; ++i) back += "-3000000000.0 1 100 Rx d 1 01\n";
  EXPECT_EQ(read(back).ending.why, "the time is out of range");
}

TEST(AscReader, ALastLineWithoutNewlineIsTorn) {
  const Reading reading = read(kHead + "1.0 1 100 Rx d 1 01\n2.0 1 100 Rx d 1 0");
  EXPECT_EQ(reading.items.size(), 1U);
  EXPECT_EQ(reading.ending.kind, EndKind::torn);
  EXPECT_EQ(reading.ending.line, 5U);
}

}  // namespace
}  // namespace sumplog
