#include "core/diagnostics/pid_length.h"

#include <gtest/gtest.h>

#include <map>

namespace sumplog {
namespace {

TEST(PidLength, OfTheParametersThatWiresharkAndScapyAgreeOn) {
  // Wireshark packet-obd-ii.c (tshark 4.0.17) and Debian's scapy 2.5.0 decode samples of these lengths alike.
  const std::map<int, std::size_t> kLengths{
      {0x01, 4}, {0x04, 1}, {0x05, 1}, {0x0B, 1}, {0x0C, 2}, {0x0D, 1}, {0x0F, 1}, {0x11, 1}, {0x1F, 2},
      {0x21, 2}, {0x2F, 1}, {0x30, 1}, {0x31, 2}, {0x32, 2}, {0x33, 1}, {0x3C, 2}, {0x3D, 2}, {0x3E, 2},
      {0x3F, 2}, {0x42, 2}, {0x43, 2}, {0x46, 1}, {0x49, 1}, {0x4A, 1}, {0x4C, 1}, {0x4D, 2}, {0x4E, 2},
      {0x5C, 1}, {0x5E, 2}, {0x61, 1}, {0x62, 1}, {0x63, 2}, {0x65, 2}, {0x67, 3}};
  for (const auto& [pid, length] : kLengths)
    EXPECT_EQ(pid_length(static_cast<std::uint8_t>(pid)), length) << pid;
}

TEST(PidLength, OfTheParametersThatScapyHasWrong) {
  EXPECT_EQ(pid_length(0x10), 2U);  // Wireshark packet-obd-ii.c: (256A+B)/100 g/s; scapy 2.5.0 takes one byte
  EXPECT_EQ(pid_length(0x02), 2U);  // a fault code of SAE J2012 (from memory)
}

TEST(PidLength, OfActualGearAndOdometer) {
  EXPECT_EQ(pid_length(0xA4), 4U);  // scapy 2.5.0: 4 raw bytes
  EXPECT_EQ(pid_length(0xA6), 4U);  // scapy 2.5.0: 4 raw bytes
}

TEST(PidLength, EverySupportBitmapHasFourBytes) {
  for (int pid = 0; pid < 0x100; pid += 0x20)
    EXPECT_EQ(pid_length(static_cast<std::uint8_t>(pid)), 4U) << pid;
}

TEST(PidLength, IsNotKnownWhereWeHaveNoSource) {
  for (const int pid : {0x70, 0x7F, 0x81, 0xA1, 0xA3, 0xA5, 0xA7, 0xC1, 0xFF})
    EXPECT_EQ(pid_length(static_cast<std::uint8_t>(pid)), std::nullopt) << pid;
}

TEST(PidLength, IsNeverZero) {
  for (int pid = 0; pid <= 0xFF; ++pid) EXPECT_NE(pid_length(static_cast<std::uint8_t>(pid)).value_or(1), 0U);
}

}  // namespace
}  // namespace sumplog
