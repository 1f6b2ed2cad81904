#include "core/isotp/pci.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {
using std::chrono::microseconds;
using std::chrono::milliseconds;

TEST(SeparationTime, IsMillisecondsUpTo7F) {
  // ISO 15765-2, STmin; Linux include/uapi/linux/can/isotp.h
  EXPECT_EQ(separation_time(0x00), milliseconds{0});
  EXPECT_EQ(separation_time(0x01), milliseconds{1});
  EXPECT_EQ(separation_time(0x14), milliseconds{20});
  EXPECT_EQ(separation_time(0x7F), milliseconds{127});
}

TEST(SeparationTime, IsHundredsOfMicrosecondsFromF1ToF9) {
  // ISO 15765-2, STmin; Linux include/uapi/linux/can/isotp.h
  EXPECT_EQ(separation_time(0xF1), microseconds{100});
  EXPECT_EQ(separation_time(0xF5), microseconds{500});
  EXPECT_EQ(separation_time(0xF9), microseconds{900});
}

TEST(SeparationTime, IsTheLongestForReservedValues) {
  // Linux net/can/isotp.c, isotp_rcv_fc: reserved values become 7F
  for (const int reserved : {0x80, 0x81, 0xEF, 0xF0, 0xFA, 0xFF}) {
    EXPECT_EQ(separation_time(static_cast<std::uint8_t>(reserved)), milliseconds{127}) << reserved;
  }
}

TEST(FullLength, IsTheNextLengthThatADlcCanName) {
  // ISO 11898-1, DLC 8…15; Linux net/can/isotp.c padlen()
  EXPECT_EQ(full_length(0), 8U);
  EXPECT_EQ(full_length(8), 8U);
  EXPECT_EQ(full_length(9), 12U);
  EXPECT_EQ(full_length(12), 12U);
  EXPECT_EQ(full_length(25), 32U);
  EXPECT_EQ(full_length(33), 48U);
  EXPECT_EQ(full_length(49), 64U);
  EXPECT_EQ(full_length(64), 64U);
}

}  // namespace
}  // namespace sumplog
