#include "core/job/verdict_words.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

TEST(SeenWords, TellTheFlowAndOnlyWhatElseWasSaid) {
  LevelSeen seen;
  seen.flow = "drip";
  EXPECT_EQ(seen_words(seen), "drip");
  seen.ml_in_10_s = 2.5;
  seen.by = "K.";
  EXPECT_EQ(seen_words(seen), "drip, 2.5 mL in 10 s, by K.");
  seen.criterion = "drip";
  seen.reached = true;
  EXPECT_EQ(seen_words(seen), "drip, 2.5 mL in 10 s, by K.; asked for: drip (reached)");
  seen.criterion = "thread";
  seen.reached = false;
  EXPECT_EQ(seen_words(seen), "drip, 2.5 mL in 10 s, by K.; asked for: thread (not reached)");
}

TEST(SecondsWords, HaveTenthsBelowTenAndMinutesFromTwo) {
  EXPECT_EQ(seconds_words(9900ms), "9.9 s");
  EXPECT_EQ(seconds_words(10s), "10 s");
  EXPECT_EQ(seconds_words(119s), "119 s");
  EXPECT_EQ(seconds_words(120s), "2 min");
}

TEST(SpellsWords, CountStretchesThatDoNotTouch) {
  const TimePoint out = at_micros(0);
  const auto spell = [&](Duration from, Duration to) {
    return Spell{out + from, out + from, out + to, "", false, {}};
  };
  EXPECT_EQ(spells_words({spell(0s, 3s)}, out), "for 3.0 s, from plug out on");
  EXPECT_EQ(spells_words({spell(5s, 8s), spell(8s, 9s)}, out), "for 4.0 s, 5.0 s after plug out");
  EXPECT_EQ(spells_words({spell(5s, 8s), spell(20s, 21s)}, out),
            "for 4.0 s in 2 stretches, the first 5.0 s after plug out");
}

TEST(TemperaturesWords, NameWhatIsKnown) {
  VerdictEvent verdict;
  const auto degrees = [](double c) { return fixed(c, 0) + " °C"; };
  EXPECT_EQ(temperatures_words(verdict, degrees), "");
  verdict.temp_out_c = 37;
  verdict.temp_high_c = 41;
  EXPECT_EQ(temperatures_words(verdict, degrees), "plug out 37 °C, highest 41 °C");
}

}  // namespace
}  // namespace sumplog
