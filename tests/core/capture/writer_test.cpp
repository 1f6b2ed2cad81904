#include "core/capture/writer.h"

#include <gmock/gmock.h>

#include <limits>

#include "core/capture/binary_capture.h"
#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::any_frame;
using capture_test::read_whole;
using capture_test::Reading;
using testing::ElementsAre;

std::string write(WrittenForm form, const std::vector<Item>& items) {
  const auto writer = make_writer(form);
  std::string out;
  for (const Item& item : items) writer->on_item(item, out);
  writer->on_end(out);
  return out;
}

CanFrame frame(std::string_view line) {
  return parse_candump_line(line).value();
}

TEST(CandumpWriter, WritesTheLinesOfCandump) {
  EXPECT_EQ(write(WrittenForm::candump, {frame("(1.5) can0 7E8#01"), frame("(2.0) vcan0 18DAF110##101")}),
            "(0000000001.500000) can0 7E8#01\n(0000000002.000000) vcan0 18DAF110##101\n");
}

TEST(AscWriter, WritesHeaderTriggerBlockAndAlignedLines) {
  // Line forms: can-utils log2asc.c.
  EXPECT_EQ(write(WrittenForm::asc,
                  {frame("(1700000000.123456) can0 7E8#0102"), frame("(1700000001.0) can1 18DAF110#R3"),
                   frame("(1700000001.0) can0 20000004#0004000000000000"),
                   frame("(1700000012.5) can0 123##3000102030405060708090A0B")}),
            "date Tue Nov 14 10:13:20.000 pm 2023\n"
            "base hex  timestamps absolute\n"
            "no internal events logged\n"
            "Begin Triggerblock Tue Nov 14 10:13:20.000 pm 2023\n"
            "   0.000000 Start of measurement\n"
            "   0.123456 1  7E8             Rx   d 2 01 02\n"
            "   1.000000 2  18DAF110x       Rx   r 3\n"
            "   1.000000 1  ErrorFrame\n"
            "  12.500000 CANFD   1 Rx           123                                  1 1 9 12 00 01 02 03 04 "
            "05 06 07 "
            "08 09 0A 0B        0    0     7000 0 0 0 0 0\n"
            "End TriggerBlock\n");
}

TEST(AscWriter, LeavesOutFramesAtATimeThatTheFormCannotSay) {
  // Found by fuzzing: the time of a foreign capture may be anything, and what was written of it could not be read back.
  const auto writer = make_writer(WrittenForm::asc);
  std::string out;
  for (const std::int64_t at : {std::numeric_limits<std::int64_t>::min(), std::int64_t{1700000000000000},
                                std::int64_t{7100000000000000}, std::numeric_limits<std::int64_t>::max()})
    writer->on_item(data_frame(at_micros(at), BusName("can0"), standard_id(0x7E8), {}), out);
  writer->on_end(out);
  EXPECT_EQ(writer->frames_left_out(), 3U);
  EXPECT_THAT(read_whole(CaptureForm::asc, out).items, ElementsAre("(1700000000.000000) can0 7E8#"));
}

TEST(AscWriter, ABusOfAnotherNameGetsAFreeChannelAndAComment) {
  const std::vector<Item> items{frame("(1.0) vcan0 001#"), frame("(1.0) can0 002#"),
                                frame("(1.0) can5 003#"),  frame("(1.0) vcan0 004#"),
                                frame("(1.0) can5 005#"),  frame("(1.0) can01 006#")};
  const std::string text = write(WrittenForm::asc, items);
  EXPECT_THAT(text, testing::HasSubstr("// channel 1 is vcan0\n"));
  EXPECT_THAT(text, testing::HasSubstr("// channel 2 is can0\n")) << "channel 1 was taken";
  EXPECT_THAT(text, testing::Not(testing::HasSubstr("is can5\n")));
  EXPECT_EQ(read_whole(CaptureForm::asc, text).items,
            read_whole(CaptureForm::candump, write(WrittenForm::candump, items)).items);
}

TEST(AscWriter, OnlyWhatIsReallyTheNumberOfACanInterfaceIsAChannelByItself) {
  std::vector<Item> items;
  for (const char* bus : {"canx", "can1x", "can255", "can300", "can254", "can"})
    items.push_back(frame("(1.0) " + std::string(bus) + " 001#"));
  const std::string text = write(WrittenForm::asc, items);
  for (const char* named : {"1 is canx", "2 is can1x", "3 is can255", "4 is can300", "5 is can"})
    EXPECT_THAT(text, testing::HasSubstr("// channel " + std::string(named) + "\n"));
  EXPECT_THAT(text, testing::Not(testing::HasSubstr("is can254\n")));
  EXPECT_EQ(read_whole(CaptureForm::asc, text).items,
            read_whole(CaptureForm::candump, write(WrittenForm::candump, items)).items);
}

TEST(Writers, AnEmptyCaptureIsALegalFileOfItsForm) {
  EXPECT_EQ(write(WrittenForm::candump, {}), "");
  for (const auto& [written, form] :
       {std::pair{WrittenForm::pcapng, CaptureForm::pcapng}, {WrittenForm::asc, CaptureForm::asc}}) {
    const std::string bytes = write(written, {});
    EXPECT_EQ(recognise(bytes), form);
    const Reading reading = read_whole(form, bytes);
    EXPECT_TRUE(reading.items.empty());
    EXPECT_EQ(reading.ending.kind, EndKind::clean);
  }
}

TEST(Writers, ItemsThatAreNoFramesArePassedOverAndAreNoFramesLeftOut) {
  for (const WrittenForm form : {WrittenForm::candump, WrittenForm::pcapng, WrittenForm::asc}) {
    const auto writer = make_writer(form);
    std::string out;
    writer->on_item(Entry{}, out);
    writer->on_item(frame("(1.0) can0 001#"), out);
    writer->on_item(End{}, out);
    EXPECT_EQ(writer->frames_left_out(), 0U);
    std::string alone;
    const auto other = make_writer(form);
    other->on_item(frame("(1.0) can0 001#"), alone);
    EXPECT_EQ(out, alone);
  }
}

TEST(PcapngWriter, ATimeBefore1970BecomesZero) {
  EXPECT_THAT(read_whole(CaptureForm::pcapng, write(WrittenForm::pcapng, {frame("(-1.5) can0 001#")})).items,
              ElementsAre("(0000000000.000000) can0 001#"));
}

TEST(PcapngWriter, EachBusIsDescribedWhenItFirstAppears) {
  const std::string bytes =
      write(WrittenForm::pcapng, {frame("(1.0) can0 001#01"), frame("(2.0) vcan7 002#02")});
  // Byte by byte after draft-ietf-opsawg-pcapng: section, interface, packet, interface, packet.
  capture_test::BinaryCapture expected(false);
  const auto options = [&](std::string_view name) {
    std::string text = expected.u16(2) + expected.u16(name.size()) + std::string(name);
    text.resize((text.size() + 3) / 4 * 4);
    return text + expected.u16(9) + expected.u16(1) + std::string("\x06\0\0\0", 4) + expected.u32(0);
  };
  const auto packet = [&](std::uint32_t interface, std::uint32_t us, std::string_view hex) {
    std::string body = expected.u32(interface) + expected.u32(0) + expected.u32(us) + expected.u32(9) +
                       expected.u32(9) + capture_test::from_hex(hex);
    expected.block(6, body);
  };
  expected.section().interface(options("can0"));
  packet(0, 1000000, "00 00 00 01 01 00 00 00 01");
  expected.interface(options("vcan7"));
  packet(1, 2000000, "00 00 00 02 01 00 00 00 02");
  EXPECT_EQ(bytes, expected.bytes);
}

TEST(Writers, WhatIsWrittenIsReadBackAsTheSameFrames) {
  std::mt19937 random(8723);
  std::vector<Item> items;
  std::vector<std::string> lines;
  std::vector<std::string> asc_lines;
  for (int i = 0; i < 5000; ++i) {
    CanFrame one = any_frame(random);
    one.at = at_micros(micros(one.at) % 1000000000000000 + 1000000000000000);  // 2001…2033, in any order
    items.emplace_back(one);
    lines.push_back(candump_line(one));
    if (one.kind == FrameKind::error) {
      one.id = standard_id(0x80);  // the ASC form keeps no class; CAN_ERR_BUSERROR as in asc2log.c
      one.bytes.fill(0);
    }
    asc_lines.push_back(candump_line(one));
  }
  EXPECT_EQ(read_whole(CaptureForm::candump, write(WrittenForm::candump, items)).items, lines);
  EXPECT_EQ(read_whole(CaptureForm::pcapng, write(WrittenForm::pcapng, items)).items, lines);
  EXPECT_EQ(read_whole(CaptureForm::asc, write(WrittenForm::asc, items)).items, asc_lines);
}

}  // namespace
}  // namespace sumplog
