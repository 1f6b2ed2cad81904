#include "core/vehicle/random.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(Random, GivesTheNumbersOfTheReferenceCode) {
  // SplitMix64, seed 1234567: Rosetta Code, "Pseudo-random numbers/Splitmix64" (from memory).
  Random random(1234567);
  EXPECT_EQ(random.next(), 6457827717110365317ULL);
  EXPECT_EQ(random.next(), 3203168211198807973ULL);
  EXPECT_EQ(random.next(), 9817491932198370423ULL);
  EXPECT_EQ(random.next(), 4593380528125082431ULL);
  EXPECT_EQ(random.next(), 16408922859458223821ULL);
}

TEST(Random, ValueAtAnIndexIsThatOfTheSequence) {
  EXPECT_EQ(Random::at(1234567, 0), 6457827717110365317ULL);
  EXPECT_EQ(Random::at(1234567, 4), 16408922859458223821ULL);
}

TEST(Random, SymmetricStaysBetweenMinusOneAndOne) {
  EXPECT_EQ(Random::symmetric(0), -1.0);
  EXPECT_LT(Random::symmetric(~0ULL), 1.0);
  EXPECT_NEAR(Random::symmetric(1ULL << 63U), 0.0, 1e-15);
}

TEST(Random, BelowNeverReachesItsBound) {
  Random random(1);
  bool zero = false;
  bool highest = false;
  for (int i = 0; i < 1000; ++i) {
    const auto value = random.below(7);
    ASSERT_LT(value, 7U);
    zero = zero || value == 0;
    highest = highest || value == 6;
  }
  EXPECT_TRUE(zero && highest);
}

}  // namespace
}  // namespace sumplog
