#include "core/job/spells.h"

#include <gtest/gtest.h>

#include "core/job/verdict_words.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1700000000000000);

TimePoint at(double seconds) {
  return kStart + Duration{static_cast<std::int64_t>(seconds * 1e6)};
}

TEST(Spells, KnowsWhatHeldWhen) {
  Spells spells;
  spells.breaks(at(10), "D", false);
  spells.breaks(at(12), "D", false);
  spells.holds(at(16));
  EXPECT_FALSE(spells.at(at(9.9)));
  EXPECT_EQ(spells.at(at(10))->detail, "D");
  EXPECT_TRUE(spells.at(at(15.9)));
  EXPECT_FALSE(spells.at(at(16))) << "at its end it holds again";
  ASSERT_EQ(spells.between(at(0), at(60)).size(), 1U) << "the same once more is no other spell";
  EXPECT_EQ(lasted(spells.between(at(0), at(60))), 6s);
}

TEST(Spells, AreCutOffAtTheEndsOfTheInterval) {
  Spells spells;
  spells.breaks(at(10), "", false);
  spells.holds(at(20));
  spells.breaks(at(50), "", false);
  EXPECT_EQ(lasted(spells.between(at(15), at(60))), 15s);
  EXPECT_TRUE(spells.between(at(20), at(50)).empty()) << "one ends and one begins at the ends";
  EXPECT_TRUE(spells.between(at(30), at(40)).empty());
  EXPECT_EQ(lasted(spells.between(at(12), at(18))), 6s);
}

TEST(Spells, OneThatIsMendedInTheSameMomentNeverWas) {
  Spells spells;
  spells.breaks(at(10), "", false);
  spells.holds(at(10));
  EXPECT_TRUE(spells.between(at(0), at(60)).empty());
}

TEST(Spells, AnotherDetailIsAnotherSpellWithoutAPause) {
  Spells spells;
  spells.breaks(at(10), "R", false);
  spells.breaks(at(12), "D", false);
  spells.holds(at(15));
  const auto all = spells.between(at(0), at(60));
  ASSERT_EQ(all.size(), 2U);
  EXPECT_EQ(all[0].to, all[1].from);
  EXPECT_EQ(spells_words(all, at(0)), "for 5.0 s, 10 s after plug out") << "one stretch";
}

TEST(Spells, CountFromWhenItWasLastSeenToHold) {
  Spells spells;
  spells.breaks(at(13), "no answer", true, at(10));
  spells.breaks(at(15), "interface is down", true, at(10));
  spells.holds(at(20));
  EXPECT_EQ(lasted(spells.between(at(0), at(60))), 10s) << "and not twice";
  EXPECT_EQ(lasted(spells.between(at(12), at(60))), 8s);
  EXPECT_TRUE(spells.between(at(10), at(12)).empty()) << "then it still was live";
}

TEST(Spells, MoreThanOneCanReadArePutTogetherAndWhatHeldInBetweenIsNotCounted) {
  Spells spells;
  for (int i = 0; i < 200; ++i) {
    spells.breaks(at(10.0 * i), "a", false);
    spells.holds(at(10.0 * i + 1));
  }
  const auto all = spells.between(at(0), at(5000));
  EXPECT_EQ(all.size(), Spells::kMost);
  EXPECT_EQ(lasted(all), 200s);
  EXPECT_EQ(all.front().from, at(0));
  for (std::size_t i = 1; i < all.size(); ++i) EXPECT_LE(all[i - 1].to, all[i].from) << i;
  EXPECT_TRUE(spells.at(at(5))) << "nothing counts as held that may not have been";
}

TEST(Spells, ForgetsWhatEndedBefore) {
  Spells spells;
  spells.breaks(at(10), "", false);
  spells.holds(at(20));
  spells.breaks(at(30), "", false);
  spells.forget_before(at(20));
  EXPECT_FALSE(spells.at(at(15)));
  spells.forget_before(at(100));
  EXPECT_TRUE(spells.at(at(30))) << "one that lasts is kept";
}

TEST(VerdictWords, TellHowLongAndWhen) {
  EXPECT_EQ(seconds_words(400ms), "0.4 s");
  EXPECT_EQ(seconds_words(12s), "12 s");
  EXPECT_EQ(seconds_words(119s), "119 s");
  EXPECT_EQ(seconds_words(120s), "2 min");
  Spells spells;
  spells.breaks(at(1), "", false);
  spells.holds(at(3));
  spells.breaks(at(8), "", false);
  spells.holds(at(9));
  EXPECT_EQ(spells_words(spells.between(at(0), at(60)), at(0)),
            "for 3.0 s in 2 stretches, the first 1.0 s after plug out");
  EXPECT_EQ(spells_words(spells.between(at(2), at(5)), at(2)), "for 1.0 s, from plug out on");
}

}  // namespace
}  // namespace sumplog
