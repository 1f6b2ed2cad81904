#include "core/asker/presence.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class PresenceTest : public ::testing::Test {
 protected:
  /// A request every second brings nothing.
  void nothing_for(Duration duration) {
    for (const TimePoint end = now_ + duration; now_ < end;) {
      now_ += 1s;
      presence_.on_nothing(now_);
    }
  }
  int looks_in(Duration duration) {
    int looks = 0;
    const TimePoint end = now_ + duration;
    while (presence_.next_look() && *presence_.next_look() <= end) {
      now_ = *presence_.next_look();
      if (presence_.take_look(now_)) ++looks;
    }
    now_ = end;
    return looks;
  }
  TimePoint now_ = at_micros(1'700'000'000'000'000);
  Presence presence_{now_};
};

TEST_F(PresenceTest, TenSecondsOfSilenceCountAsIgnitionOff) {
  presence_.on_answer(now_);
  nothing_for(9s);
  EXPECT_FALSE(presence_.off());
  nothing_for(2s);
  EXPECT_TRUE(presence_.off());
}

TEST_F(PresenceTest, OneLostAnswerAfterALongPauseDoesNot) {
  presence_.on_answer(now_);
  now_ += 60s;
  presence_.on_nothing(now_);
  presence_.on_nothing(now_);
  EXPECT_FALSE(presence_.off());
}

TEST_F(PresenceTest, ABusThatIsStillHeardIsGivenAMinute) {
  presence_.on_answer(now_);
  for (int i = 0; i < 59; ++i) {
    presence_.on_own_frame(now_);
    nothing_for(1s);
    ASSERT_FALSE(presence_.off()) << i;
  }
  presence_.on_own_frame(now_);
  nothing_for(2s);
  EXPECT_TRUE(presence_.off());
}

TEST_F(PresenceTest, BeforeTheFirstAnswerTwoMinutesAreGiven) {
  nothing_for(119s);
  EXPECT_FALSE(presence_.off());
  nothing_for(2s);
  EXPECT_TRUE(presence_.off());
}

TEST_F(PresenceTest, AVehicleThatSpeaksByItselfIsOnAgain) {
  presence_.on_answer(now_);
  presence_.on_own_frame(now_);
  now_ += 10s;
  nothing_for(12s);
  ASSERT_TRUE(presence_.off());
  now_ += 20min;
  presence_.on_own_frame(now_);
  EXPECT_FALSE(presence_.off());
}

TEST_F(PresenceTest, AVehicleThatUsedToSpeakAndIsQuietIsNotDisturbed) {
  presence_.on_own_frame(now_);
  presence_.on_answer(now_);
  now_ += 10s;
  nothing_for(12s);
  ASSERT_TRUE(presence_.off());
  EXPECT_EQ(looks_in(24h), 0);
}

TEST_F(PresenceTest, FramesThatNeverStoppedAreNoSignOfIgnitionOn) {
  presence_.on_answer(now_);
  for (int i = 0; i < 70; ++i) {
    presence_.on_own_frame(now_);
    nothing_for(1s);
  }
  ASSERT_TRUE(presence_.off());
  presence_.on_own_frame(now_);
  EXPECT_TRUE(presence_.off());
}

TEST_F(PresenceTest, OneThatSpeaksOnIsLookedAt) {
  presence_.on_answer(now_);
  for (int i = 0; i < 70; ++i) {
    presence_.on_own_frame(now_);
    nothing_for(1s);
  }
  ASSERT_TRUE(presence_.off());
  ASSERT_TRUE(presence_.next_look());
  now_ = *presence_.next_look();
  presence_.on_own_frame(now_ - 100ms);
  EXPECT_TRUE(presence_.take_look(now_));
}

TEST_F(PresenceTest, BehindAGatewayItLooksOnceAMinuteForHalfAnHour) {
  presence_.on_answer(now_);
  nothing_for(11s);
  ASSERT_TRUE(presence_.off());
  EXPECT_EQ(looks_in(75s), 3);  // after 10, 20 and 40 s
  const int looks = looks_in(28min);
  EXPECT_GE(looks, 25);
  EXPECT_LE(looks, 30);
  EXPECT_LE(looks_in(24h), 1);
}

TEST_F(PresenceTest, AnAnswerToALookIsIgnitionOn) {
  presence_.on_answer(now_);
  nothing_for(11s);
  ASSERT_EQ(looks_in(11s), 1);
  presence_.on_answer(now_);
  EXPECT_FALSE(presence_.off());
  EXPECT_FALSE(presence_.next_look());
}

}  // namespace
}  // namespace sumplog
