#include "core/capture/socketcan_packet.h"

#include <gtest/gtest.h>

#include "core/capture/binary_capture.h"
#include "core/capture/candump_text.h"
#include "core/capture/reading.h"

namespace sumplog {
namespace {

using capture_test::any_frame;
using capture_test::from_hex;

// Layout and flags: tcpdump.org LINKTYPE_CAN_SOCKETCAN; which packets are CAN FD: Wireshark
// packet-socketcan.c.
std::string line_of(std::string_view hex) {
  const auto frame = parse_socketcan_packet(from_hex(hex), at_micros(0), BusName("can0"));
  return frame ? candump_line(*frame).substr(20) : frame.error();
}

TEST(SocketcanPacket, TheIdentifierIsBigEndianWithItsFlagsOnTop) {
  EXPECT_EQ(line_of("00 00 07 e8 08 00 00 00 03 41 05 7b 00 00 00 00"), "can0 7E8#0341057B00000000");
  EXPECT_EQ(line_of("98 da f1 10 02 00 00 00 01 02"), "can0 18DAF110#0102");
  EXPECT_EQ(line_of("80 00 07 e8 00 00 00 00"), "can0 000007E8#");
  EXPECT_EQ(line_of("40 00 07 df 08 00 00 00"), "can0 7DF#R8");
  EXPECT_EQ(line_of("c0 00 07 df 00 00 00 00"), "can0 000007DF#R");
  // linux/can/error.h: CAN_ERR_CRTL, CAN_ERR_CRTL_RX_WARNING in data[1]
  EXPECT_EQ(line_of("20 00 00 04 08 00 00 00 00 04 00 00 00 00 00 00"), "can0 20000004#0004000000000000");
}

TEST(SocketcanPacket, BytesAfterTheDataArePadding) {
  EXPECT_EQ(line_of("00 00 07 e8 03 00 00 00 02 41 05 7b aa aa aa aa"), "can0 7E8#024105");
  EXPECT_EQ(line_of("40 00 07 df 02 00 00 00 00 00 00 00 00 00 00 00"), "can0 7DF#R2");
}

TEST(SocketcanPacket, FdfInACleanHeaderMakesAFrameCanFd) {
  EXPECT_EQ(line_of("00 00 07 e8 02 04 00 00 01 02"), "can0 7E8##00102");
  EXPECT_EQ(line_of("00 00 07 e8 02 05 00 00 01 02"), "can0 7E8##10102");
  EXPECT_EQ(line_of("00 00 07 e8 02 06 00 00 01 02"), "can0 7E8##20102");
  EXPECT_EQ(line_of("00 00 07 e8 02 0c 00 00 01 02"), "can0 7E8#0102") << "an unknown flag bit";
  EXPECT_EQ(line_of("00 00 07 e8 02 04 01 00 01 02"), "can0 7E8#0102") << "reserved byte not 0";
  EXPECT_EQ(line_of("00 00 07 e8 02 04 00 01 01 02"), "can0 7E8#0102") << "reserved byte not 0";
  EXPECT_EQ(line_of("00 00 07 e8 02 01 00 00 01 02"), "can0 7E8#0102") << "BRS without FDF";
}

TEST(SocketcanPacket, MoreThanEightBytesAreCanFdInOldCapturesWithoutFdf) {
  EXPECT_EQ(line_of("00 00 07 e8 0c 01 00 00 01 02 03 04 05 06 07 08 09 0a 0b 0c"),
            "can0 7E8##10102030405060708090A0B0C");
}

TEST(SocketcanPacket, EachMistakeHasItsOwnClause) {
  EXPECT_EQ(line_of("00 00 07 e8 08 00 00"), "the packet is shorter than the 8 bytes before the data");
  EXPECT_EQ(line_of(""), "the packet is shorter than the 8 bytes before the data");
  EXPECT_EQ(line_of("00 00 07 e8 41 00 00 00"), "data length 65; 0…64 are possible");
  EXPECT_EQ(line_of("00 00 07 e8 80 00 00 00 00 00 00 00"), "CAN XL frames are not read");
  EXPECT_EQ(line_of("00 00 08 00 00 00 00 00"), "identifier of 11 bits is above 7FF");
  EXPECT_EQ(line_of("40 00 07 e8 09 00 00 00"), "a remote or error frame of more than 8 bytes");
  EXPECT_EQ(line_of("20 00 00 04 09 00 00 00 01 02 03 04 05 06 07 08 09"),
            "a remote or error frame of more than 8 bytes");
  EXPECT_EQ(line_of("00 00 07 e8 04 00 00 00 01 02 03"), "the packet holds 3 of 4 data bytes");
}

TEST(SocketcanPacket, EveryFrameComesBackFromItsPacket) {
  std::mt19937 random(227);
  for (int i = 0; i < 20000; ++i) {
    const CanFrame frame = any_frame(random);
    const auto back = parse_socketcan_packet(socketcan_packet(frame), frame.at, frame.bus);
    ASSERT_TRUE(back.has_value()) << candump_line(frame) << ": " << back.error();
    ASSERT_EQ(*back, frame) << candump_line(frame);
  }
}

}  // namespace
}  // namespace sumplog
