#include "core/capture/candump_text.h"

#include <gtest/gtest.h>

#include <random>

namespace sumplog {
namespace {

CanFrame read(std::string_view line) {
  const auto frame = parse_candump_line(line);
  EXPECT_TRUE(frame.has_value()) << line << ": " << (frame ? "" : frame.error());
  return frame.value_or(CanFrame{});
}

std::string refusal(std::string_view line) {
  const auto frame = parse_candump_line(line);
  EXPECT_FALSE(frame.has_value()) << line;
  return frame ? "" : frame.error();
}

std::vector<int> bytes_of(const CanFrame& frame) {
  return {frame.data().begin(), frame.data().end()};
}

// The grammar is that of can-utils lib.h (parse_canframe, sprint_canframe) and candump.c (log line).

TEST(CandumpText, AStandardFrameIsReadWithBusTimeAndBytes) {
  const CanFrame frame = read("(1700000000.123456) can0 7E9#0462D10549000000");
  EXPECT_EQ(micros(frame.at), 1700000000123456);
  EXPECT_EQ(frame.bus, BusName("can0"));
  EXPECT_EQ(frame.id, standard_id(0x7E9));
  EXPECT_EQ(frame.kind, FrameKind::data);
  EXPECT_FALSE(frame.fd);
  EXPECT_EQ(bytes_of(frame), (std::vector<int>{0x04, 0x62, 0xD1, 0x05, 0x49, 0, 0, 0}));
}

TEST(CandumpText, EightDigitsAreAnExtendedIdentifierEvenWhenTheNumberIsSmall) {
  EXPECT_EQ(read("(1.0) can0 18DAF110#0100").id, extended_id(0x18DAF110));
  EXPECT_EQ(read("(1.0) can0 000007E8#0100").id, extended_id(0x7E8));
}

TEST(CandumpText, LowerCaseHexIsReadLikeUpperCase) {
  EXPECT_EQ(read("(1.0) can0 7e8#0abc"), read("(1.0) can0 7E8#0ABC"));
  EXPECT_EQ(read("(1.0) can0 18daf110##3ff"), read("(1.0) can0 18DAF110##3FF"));
}

TEST(CandumpText, DotsMayStandBetweenBytes) {
  EXPECT_EQ(read("(1.0) can0 7E8#11.22.33"), read("(1.0) can0 7E8#112233"));
  EXPECT_EQ(read("(1.0) can0 7E8#11.2233.44"), read("(1.0) can0 7E8#11223344"));
  EXPECT_EQ(read("(1.0) can0 7E8##011.22"), read("(1.0) can0 7E8##01122"));
}

TEST(CandumpText, DirectionSuffixCarriageReturnAndTrailingBlanksAreIgnored) {
  const CanFrame plain = read("(1.0) can0 7E8#1122");
  EXPECT_EQ(read("(1.0) can0 7E8#1122 R"), plain);
  EXPECT_EQ(read("(1.0) can0 7E8#1122 T"), plain);
  EXPECT_EQ(read("(1.0) can0 7E8#1122 T\r"), plain);
  EXPECT_EQ(read("(1.0) can0 7E8#1122\r"), plain);
  EXPECT_EQ(read("(1.0) can0 7E8#1122  "), plain);
  EXPECT_EQ(read("(1.0)   can0   7E8#1122"),
            plain);  // candump pads the name when several interfaces are logged
}

TEST(CandumpText, ASuffixRIsADirectionWhileRAfterTheHashIsARemoteFrame) {
  EXPECT_EQ(read("(1.0) can0 7E8# R").kind, FrameKind::data);
  EXPECT_EQ(read("(1.0) can0 7E8#R R").kind, FrameKind::remote);
}

TEST(CandumpText, FractionsAreDecimalFractionsTruncatedToMicroseconds) {
  EXPECT_EQ(micros(read("(1700000000.5) can0 7E8#").at), 1700000000500000);
  EXPECT_EQ(micros(read("(1700000000.000005) can0 7E8#").at), 1700000000000005);
  EXPECT_EQ(micros(read("(1700000000.123456789) can0 7E8#").at), 1700000000123456);
  EXPECT_EQ(micros(read("(1700000000.999999999) can0 7E8#").at), 1700000000999999);
  EXPECT_EQ(micros(read("(0000000000.000000) can0 7E8#").at), 0);
}

TEST(CandumpText, RemoteFramesKeepTheRequestedLength) {
  EXPECT_EQ(read("(1.0) can0 7DF#R").length, 0);
  EXPECT_EQ(read("(1.0) can0 7DF#R8").length, 8);
  EXPECT_EQ(read("(1.0) can0 7DF#r3").length, 3);
  EXPECT_EQ(read("(1.0) can0 7DF#R8").kind, FrameKind::remote);
  EXPECT_TRUE(read("(1.0) can0 7DF#R8").data().empty());
}

TEST(CandumpText, FdFramesCarryTheirFlagsAndUpTo64Bytes) {
  const CanFrame plain = read("(1.0) can0 7E8##0");
  EXPECT_TRUE(plain.fd);
  EXPECT_EQ(plain.length, 0);
  const CanFrame switched = read("(1.0) can0 7E8##1AA");
  EXPECT_TRUE(switched.bit_rate_switch);
  EXPECT_FALSE(switched.error_state);
  const CanFrame passive = read("(1.0) can0 7E8##2AA");
  EXPECT_FALSE(passive.bit_rate_switch);
  EXPECT_TRUE(passive.error_state);
  // linux/can.h CANFD_FDF (4) is set by newer kernels; it says what ## says already.
  EXPECT_EQ(read("(1.0) can0 7E8##5AA"), switched);
  std::string longest = "(1.0) can0 7E8##0";
  for (int i = 0; i < 64; ++i) longest += "5A";
  EXPECT_EQ(read(longest).length, 64);
  // No DLC codes 13 bytes, yet a log may hold such a line: the bytes are kept as written.
  EXPECT_EQ(read("(1.0) can0 7E8##0000102030405060708090A0B0C").length, 13);
}

TEST(CandumpText, IdentifiersFrom20000000OnAreErrorFrames) {
  const CanFrame frame = read("(1.0) can0 20000004#0004000000000000");
  EXPECT_EQ(frame.kind, FrameKind::error);
  EXPECT_EQ(frame.id.value, 0x4U);  // linux/can/error.h, CAN_ERR_CRTL
  EXPECT_EQ(frame.length, 8);
  EXPECT_EQ(frame.bytes[1], 0x04);  // CAN_ERR_CRTL_RX_WARNING
  EXPECT_EQ(read("(1.0) can0 1FFFFFFF#").kind, FrameKind::data);
  EXPECT_EQ(read("(1.0) can0 3FFFFFFF#").kind, FrameKind::error);
}

TEST(CandumpText, ARawLengthCodeAboveEightIsReadAsEightBytes) {
  EXPECT_EQ(read("(1.0) can0 7E8#1122334455667788_B"), read("(1.0) can0 7E8#1122334455667788"));
  EXPECT_EQ(read("(1.0) can0 7E8#R8_9"), read("(1.0) can0 7E8#R8"));
}

TEST(CandumpText, ADotBelongsToAByteAndARawLengthCodeIsNineToF) {
  for (const char* line : {"(1.0) can0 7E8#.", "(1.0) can0 7E8#.x", "(1.0) can0 7E8#R8_8",
                           "(1.0) can0 7E8#R8_G", "(1.0) can0 7E8#0102030405060708_8", "(1.0) can0 7E8#01_9"})
    EXPECT_EQ(refusal(line), "unexpected text after the frame") << line;
  EXPECT_EQ(bytes_of(read("(1.0) can0 7E8#.01.02.")), (std::vector<int>{1, 2}));
}

TEST(CandumpText, NamesOfForeignBusesAreCutTo15Characters) {
  EXPECT_EQ(read("(1.0) an-adapter-with-a-long-name 7E8#").bus.text(), "an-adapter-with");
}

TEST(CandumpText, EachMistakeHasItsOwnClause) {
  EXPECT_EQ(refusal(""), "a line starts with the time in parentheses, as in (1700000000.123456)");
  EXPECT_EQ(refusal("1700000000.123456 can0 7E8#"),
            "a line starts with the time in parentheses, as in (1700000000.123456)");
  EXPECT_EQ(refusal("(.5) can0 7E8#"), "the time has no seconds");
  EXPECT_EQ(refusal("(17) can0 7E8#"), "the time has no decimal point");
  EXPECT_EQ(refusal("(17.) can0 7E8#"), "the time has no digit after its point");
  EXPECT_EQ(refusal("(17.1234567890) can0 7E8#"), "the time has more than 9 digits after its point");
  EXPECT_EQ(refusal("(17.5 can0 7E8#"), "the time does not end in a parenthesis");
  EXPECT_EQ(refusal("(99999999999999.5) can0 7E8#"), "the time is out of range");
  EXPECT_EQ(refusal("(99999999999999999999999999999.5) can0 7E8#"), "the time is out of range");
  EXPECT_EQ(refusal("(1.0)can0 7E8#"), "no space after the time");
  EXPECT_EQ(refusal("(1.0) "), "the interface name is missing");
  EXPECT_EQ(refusal("(1.0) can0"), "the frame is missing after the interface name");
  EXPECT_EQ(refusal("(1.0) can0 7E8"), "no # after the identifier");
  EXPECT_EQ(refusal("(1.0) can0 7E8 [2] 11 22"), "no # after the identifier");
  EXPECT_EQ(refusal("(1.0) can0 #11"), "identifier has 0 digits; 3 or 8 are possible");
  EXPECT_EQ(refusal("(1.0) can0 7#11"), "identifier has 1 digit; 3 or 8 are possible");
  EXPECT_EQ(refusal("(1.0) can0 007E8#11"), "identifier has 5 digits; 3 or 8 are possible");
  EXPECT_EQ(refusal("(1.0) can0 800#11"), "identifier of 3 digits is above 7FF");
  EXPECT_EQ(refusal("(1.0) can0 40000000#11"), "identifier of 8 digits is above 3FFFFFFF");
  EXPECT_EQ(refusal("(1.0) can0 7E8#1"), "a data byte has one digit only");
  EXPECT_EQ(refusal("(1.0) can0 7E8#11.2"), "a data byte has one digit only");
  EXPECT_EQ(refusal("(1.0) can0 7E8#112233445566778899"), "more than 8 data bytes");
  EXPECT_EQ(refusal("(1.0) can0 7E8##0" + std::string(130, '0')), "more than 64 data bytes");
  EXPECT_EQ(refusal("(1.0) can0 7E8##"), "the flag digit after ## is missing");
  EXPECT_EQ(refusal("(1.0) can0 7E8#R9"), "a remote frame asks for more than 8 bytes");
  EXPECT_EQ(refusal("(1.0) can0 20000001#R"), "an error frame cannot be a remote frame");
  EXPECT_EQ(refusal("(1.0) can0 20000001##0"), "an error frame cannot be CAN FD");
  EXPECT_EQ(refusal("(1.0) can0 7E8#11 X"), "unexpected text after the frame");
  EXPECT_EQ(refusal("(1.0) can0 7E8#11..22"), "unexpected text after the frame");
  EXPECT_EQ(refusal("(1.0) can0 7E8#1122_B"),
            "unexpected text after the frame");  // the raw DLC needs 8 bytes
  EXPECT_EQ(refusal(std::string_view("(1.0) can0 7E8#11\0", 18)), "unexpected text after the frame");
}

TEST(CandumpText, AFrameIsWrittenTheWayCandumpWritesIt) {
  const std::array<std::uint8_t, 2> two{0x0A, 0xFF};
  CanFrame frame = data_frame(at_micros(1700000000000008), BusName("can0"), standard_id(0x18), two);
  EXPECT_EQ(candump_line(frame), "(1700000000.000008) can0 018#0AFF");
  frame.at = at_micros(5);
  frame.id = extended_id(0x18);
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 00000018#0AFF");
  frame.kind = FrameKind::error;
  frame.id = standard_id(4);
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 20000004#0AFF");
  frame.kind = FrameKind::remote;
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 004#R2");
  frame.length = 0;
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 004#R");
  frame.kind = FrameKind::data;
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 004#");
  frame.fd = true;
  frame.bit_rate_switch = frame.error_state = true;
  EXPECT_EQ(candump_line(frame), "(0000000000.000005) can0 004##3");
}

CanFrame any_frame(std::mt19937& random) {
  const auto below = [&](std::uint32_t n) { return static_cast<std::uint32_t>(random() % n); };
  CanFrame frame;
  frame.at = at_micros(static_cast<std::int64_t>((std::uint64_t{random()} << 32 | random()) >> 13));
  frame.bus = BusName("vcan" + std::to_string(below(12)));
  frame.id = below(2) == 0 ? standard_id(below(0x800)) : extended_id(below(0x20000000));
  switch (below(4)) {
    case 0:
      frame.fd = true;
      frame.bit_rate_switch = below(2) == 0;
      frame.error_state = below(2) == 0;
      frame.length = static_cast<std::uint8_t>(below(65));
      break;
    case 1:
      frame.kind = FrameKind::remote;
      frame.length = static_cast<std::uint8_t>(below(9));
      break;
    case 2:
      frame.kind = FrameKind::error;
      frame.id = standard_id(below(0x20000000));
      frame.length = static_cast<std::uint8_t>(below(9));
      break;
    default: frame.length = static_cast<std::uint8_t>(below(9));
  }
  for (std::size_t i = 0; i < frame.length; ++i) frame.bytes[i] = static_cast<std::uint8_t>(below(256));
  return frame;
}

TEST(CandumpText, EveryFrameComesBackFromItsLine) {
  std::mt19937 random(227);
  for (int i = 0; i < 20000; ++i) {
    const CanFrame frame = any_frame(random);
    const std::string line = candump_line(frame);
    const auto back = parse_candump_line(line);
    ASSERT_TRUE(back.has_value()) << line << ": " << back.error();
    ASSERT_EQ(*back, frame) << line;
  }
}

TEST(CandumpText, ALineWithAnyByteChangedIsReadOrRefusedButNeverMisbehaves) {
  std::mt19937 random(1);
  for (int i = 0; i < 20000; ++i) {
    std::string line = candump_line(any_frame(random));
    line[random() % line.size()] = static_cast<char>(random() % 256);
    const auto back = parse_candump_line(line);
    if (!back) {
      ASSERT_FALSE(back.error().empty());
    } else {
      // What was accepted is a legal frame: its own line is accepted too.
      const auto again = parse_candump_line(candump_line(*back));
      ASSERT_TRUE(again.has_value()) << line;
      ASSERT_EQ(*again, *back) << line;
    }
  }
}

}  // namespace
}  // namespace sumplog
