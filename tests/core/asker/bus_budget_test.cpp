#include "core/asker/bus_budget.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

TEST(BusBudget, KnowsTheLongestFrame) {
  // Davis, Burns, Bril, Lukkien 2007: 135 bits for eight bytes and an 11-bit identifier, 160 with 29 bits; 55
  // and 80 without data.
  EXPECT_EQ(longest_frame_bits(false, 8), 135);
  EXPECT_EQ(longest_frame_bits(true, 8), 160);
  EXPECT_EQ(longest_frame_bits(false, 0), 55);
  EXPECT_EQ(longest_frame_bits(true, 0), 80);
}

TEST(BusBudget, CountsAllFramesOfAnAnswerAndTheFlowControlForIt) {
  // ISO 15765-2: a VIN answer (20 bytes) is a first frame with 6 and two consecutive ones with 7 each.
  EXPECT_EQ(longest_message_bits(false, 7, false), 135);
  EXPECT_EQ(longest_message_bits(false, 8, false), 3 * 135);
  EXPECT_EQ(longest_message_bits(false, 20, false), 4 * 135);
  EXPECT_EQ(longest_message_bits(false, 21, false), 5 * 135);
  EXPECT_EQ(longest_message_bits(false, 6, true), 135);
  EXPECT_EQ(longest_message_bits(false, 7, true), 3 * 135);
}

TEST(BusBudget, LendsAShortBurstAndIsPaidBackAtItsShare) {
  BusBudget budget(250'000, 0.02);  // 5000 bit/s
  TimePoint now = at_micros(1'000'000'000);
  EXPECT_LE(budget.free_at(), now);
  budget.spend(2500, now);  // half a second's worth
  EXPECT_LE(budget.free_at(), now);
  budget.spend(5000, now);
  EXPECT_EQ(budget.free_at(), now + 1s);
  budget.set_bit_rate(500'000);
  budget.spend(5000, now);
  EXPECT_EQ(budget.free_at(), now + 1500ms);
}

TEST(BusBudget, SavesNothingUpWhileNothingIsSent) {
  BusBudget budget(500'000, 0.02);
  TimePoint now = at_micros(1'000'000'000);
  budget.spend(10'000, now);
  now += 1h;
  budget.spend(20'000, now);
  EXPECT_EQ(budget.free_at(), now + 1500ms);
}

}  // namespace
}  // namespace sumplog
