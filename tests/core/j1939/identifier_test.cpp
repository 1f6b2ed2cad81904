#include "core/j1939/identifier.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

void expect_parts(std::uint32_t id, std::uint8_t priority, std::uint32_t group, std::uint8_t source,
                  std::uint8_t destination) {
  const auto parts = split_identifier(extended_id(id));
  ASSERT_TRUE(parts);
  EXPECT_EQ(parts->priority, priority) << std::hex << id;
  EXPECT_EQ(parts->group, group) << std::hex << id;
  EXPECT_EQ(parts->source, source) << std::hex << id;
  EXPECT_EQ(parts->destination, destination) << std::hex << id;
  EXPECT_EQ(join_identifier(*parts), extended_id(id));
}

TEST(J1939Identifier, IsTakenApartAsWiresharkDoesIt) {
  // Wireshark 4.0 packet-j1939.c, seen with tshark
  expect_parts(0x18FEF803, 6, 65272, 3, 255);
  expect_parts(0x0CF00203, 3, 61442, 3, 255);
  expect_parts(0x18EAFFF9, 6, 59904, 249, 255);
  expect_parts(0x18ECFF03, 6, 60416, 3, 255);
}

TEST(J1939Identifier, HasADestinationBelowFormat240) {
  // SAE J1939-21, PDU1 and PDU2
  expect_parts(0x18EA03F9, 6, 59904, 249, 3);
  expect_parts(0x18EFF903, 6, 0xEF00, 3, 249);
  expect_parts(0x18F00003, 6, 0xF000, 3, 255);
  EXPECT_TRUE(has_destination(0xEF00));
  EXPECT_FALSE(has_destination(0xF000));
}

TEST(J1939Identifier, KeepsTheDataPages) {
  expect_parts(0x19FEF803, 6, 0x1FEF8, 3, 255);
  expect_parts(0x1AFEF803, 6, 0x2FEF8, 3, 255);
  expect_parts(0x1FFFFFFF, 7, 0x3FFFF, 255, 255);
  expect_parts(0x00000000, 0, 0, 0, 0);
}

TEST(J1939Identifier, IsNeverOf11Bits) {
  EXPECT_FALSE(split_identifier(standard_id(0x7E8)));
}

TEST(J1939Identifier, JoinsWhatFitsItsFields) {
  EXPECT_EQ(join_identifier({6, 59904, 249, 255}), extended_id(0x18EAFFF9));
  EXPECT_EQ(join_identifier({6, 65226, 3, 17}), extended_id(0x18FECA03));  // PDU2 has no destination
  EXPECT_EQ(join_identifier({15, 0xFFFFEF00, 3, 17}), extended_id(0x1FEF1103 | 0x03000000));
}

TEST(J1939Identifier, SplitAndJoinAreInverseForEveryFormat) {
  for (std::uint32_t high = 0; high < 0x2000; ++high) {
    for (const std::uint32_t low : {0x0000U, 0x03FFU, 0xFFF9U, 0xA55AU}) {
      const CanId id = extended_id(high << 16 | low);
      EXPECT_EQ(join_identifier(*split_identifier(id)), id);
    }
  }
}

}  // namespace
}  // namespace sumplog
