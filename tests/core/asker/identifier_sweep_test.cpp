#include "core/asker/identifier_sweep.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using Bytes = std::vector<std::uint8_t>;

const BusName kBus("can0");

/// A unit that answers at once, refuses, or keeps silent, as `answers` says; without an asker in between.
class SweepOfAUnit : public ::testing::Test {
 protected:
  static constexpr int kSilent = -1;
  static constexpr int kAnswers = 0;

  void start(const std::string& range) {
    range_ = *parse_sweep_range(range);
    sweep_.emplace(std::vector{range_}, kBus);
    sweep_->begin();
    unit_ = range_.unit(kBus);
  }
  /// One question, if one is due, and what came of it. out  its hex text
  std::string step(Duration after = 110ms) {
    now_ += after;
    const auto task = sweep_->take(unit_, now_);
    if (!task) return "";
    const Bytes asked = task->payload();
    Exchange exchange;
    exchange.asked_at = now_ + 1ms;
    exchange.ended_at = now_ + 20ms;
    exchange.request = unit_;
    exchange.asked = asked;
    const int result = answers_(asked);
    if (result == kSilent) {
      late_.push_back(exchange);
    } else {
      exchange.unit = Endpoint{kBus, standard_id(0x7E9), std::nullopt};
      exchange.result = result == kAnswers ? ExchangeResult::answered : ExchangeResult::refused;
      exchange.negative_code = static_cast<std::uint8_t>(result);
      if (result == kAnswers) {
        exchange.response = asked;
        exchange.response[0] += 0x40;
        exchange.response.push_back(value_);
      }
    }
    // The pairing closes a question without an answer when the next one is asked.
    if (result != kSilent || late_.size() > 1) {
      for (Exchange& one : late_)
        if (one.asked_at != exchange.asked_at) sweep_->on_exchange(one);
      std::erase_if(late_, [&](const Exchange& one) { return one.asked_at != exchange.asked_at; });
    }
    if (result != kSilent) sweep_->on_exchange(exchange);
    asked_.push_back(hex_text(asked.data(), asked.size()));
    return asked_.back();
  }
  Exchange refused_to_another(Bytes asked) const {
    Exchange theirs;
    theirs.asked_at = theirs.ended_at = now_;
    theirs.request = unit_;
    theirs.unit = Endpoint{kBus, standard_id(0x7E9), std::nullopt};
    theirs.asked = std::move(asked);
    theirs.result = ExchangeResult::refused;
    theirs.negative_code = 0x31;
    return theirs;
  }
  std::vector<std::string> steps(int count) {
    std::vector<std::string> list;
    for (int i = 0; i < count; ++i) list.push_back(step());
    return list;
  }
  int times(const std::string& question) const {
    return static_cast<int>(std::count(asked_.begin(), asked_.end(), question));
  }

  SweepRange range_;
  std::optional<IdentifierSweep> sweep_;
  Endpoint unit_{};
  TimePoint now_ = at_micros(1'700'000'000'000'000);
  std::function<int(const Bytes&)> answers_ = [](const Bytes&) { return 0x31; };
  std::uint8_t value_ = 0x40;
  std::vector<std::string> asked_;

 private:
  std::vector<Exchange> late_;
};

TEST_F(SweepOfAUnit, IsAskedInTheOrderThatWasStated) {
  start("7E1:1A00-1A02");
  EXPECT_THAT(steps(4), ElementsAre("221A00", "221A01", "221A02", ""));
}

TEST_F(SweepOfAUnit, LocalIdentifiersHaveOneByte) {
  start("7E1:FE-FF");
  EXPECT_THAT(steps(3), ElementsAre("21FE", "21FF", ""));
}

TEST_F(SweepOfAUnit, OnlyOneQuestionIsOut) {
  start("7E1:1A00-1A02");
  ASSERT_TRUE(sweep_->take(unit_, now_));
  EXPECT_EQ(sweep_->due(unit_), TimePoint::min()) << "what became of it is asked for";
}

TEST_F(SweepOfAUnit, AfterASilenceItIsAskedWhatItIsKnownToAnswer) {
  start("7E1:1A00-1A04");
  answers_ = [](const Bytes& asked) { return asked[2] == 2 ? kSilent : 0x31; };
  EXPECT_THAT(steps(7), ElementsAre("221A00", "221A01", "221A02", "221A01", "221A03", "221A04", "221A02"));
  EXPECT_THAT(steps(3), ElementsAre("221A04", "", "")) << "silent twice: not asked a third time";
}

TEST_F(SweepOfAUnit, SilenceToWhatItHasAnsweredBeforeIsTheEnd) {
  start("7E1:1A00-1AFF");
  steps(5);
  answers_ = [](const Bytes&) { return kSilent; };
  EXPECT_THAT(steps(3), ElementsAre("221A05", "221A04", ""));
  EXPECT_THAT(sweep_->trouble(unit_).value_or(""),
              HasSubstr("not even what it has answered before (22 1A04)"));
  EXPECT_FALSE(sweep_->due(unit_));
}

TEST_F(SweepOfAUnit, AUnitThatIsSilentToWhatItDoesNotKnowIsSweptToTheEnd) {
  start("7E1:1A00-1AFF");
  answers_ = [](const Bytes& asked) { return asked[2] % 16 == 0 ? kAnswers : kSilent; };
  for (int i = 0; i < 2000 && sweep_->progress().pass == 1; ++i) step();
  EXPECT_FALSE(sweep_->trouble(unit_)) << *sweep_->trouble(unit_);
  EXPECT_EQ(sweep_->progress().pass, 2);
  EXPECT_EQ(sweep_->progress().answering, 16U);
  for (int id = 0; id < 256; ++id) {
    const std::uint8_t low = static_cast<std::uint8_t>(id);
    if (id % 16 != 0) {
      EXPECT_EQ(times("221A" + hex_text(&low, 1)), 2) << id;
    }
  }
}

TEST_F(SweepOfAUnit, ARefusalBehindASilenceMayBelongToTheQuestionBefore) {
  start("7E1:1A00-1A03");
  answers_ = [](const Bytes& asked) {
    if (asked[2] == 0) return kSilent;  // nothing is known of the unit yet
    return 0x31;
  };
  EXPECT_THAT(steps(6), ElementsAre("221A00", "221A01", "221A02", "221A03", "221A00", "221A03"));
  EXPECT_EQ(step(), "221A01") << "once more, as it may have been refused by mistake";
}

TEST_F(SweepOfAUnit, NoAnswerAtAllEndsItAfterSixteenQuestions) {
  start("7E1:1A00-1AFF");
  answers_ = [](const Bytes&) { return kSilent; };
  for (int i = 0; i < 100; ++i) step();
  EXPECT_EQ(asked_.size(), 16U);
  EXPECT_EQ(sweep_->trouble(unit_), "it has not answered any of 16 questions");
}

TEST_F(SweepOfAUnit, BusyTwiceIsNoReasonThreeTimesIs) {
  start("7E1:1A00-1AFF");
  answers_ = [](const Bytes& asked) { return asked[2] % 3 == 0 ? 0x31 : 0x21; };
  steps(30);
  EXPECT_FALSE(sweep_->trouble(unit_));
  answers_ = [](const Bytes&) { return 0x21; };
  for (int i = 0; i < 10; ++i) step();
  EXPECT_EQ(sweep_->trouble(unit_), "it said 3 times in a row that it is busy");
}

TEST_F(SweepOfAUnit, WhatWasTakenBackIsAskedAgainAsIfNothingHadBeen) {
  start("7E1:1A00-1A01");
  ASSERT_TRUE(sweep_->take(unit_, now_));
  sweep_->take_back(unit_);
  EXPECT_THAT(steps(3), ElementsAre("221A00", "221A01", ""));
}

TEST_F(SweepOfAUnit, OneThatMovesSlowlyIsAskedMoreOften) {
  start("7E1:1A00-1A01");
  answers_ = [](const Bytes&) { return kAnswers; };
  int count = 0;
  const TimePoint end = now_ + 5min;
  while (now_ < end) {
    // 1A00 rises by one every ten seconds, 1A01 stands still.
    const auto due = sweep_->due(unit_);
    ASSERT_TRUE(due);
    if (*due > now_ + 110ms) now_ = *due - 110ms;
    value_ = 0x40;
    const Bytes rising{0x22, 0x1A, 0x00};
    answers_ = [&](const Bytes& asked) {
      value_ = asked == rising ? static_cast<std::uint8_t>(0x40 + (now_ - (end - 5min)) / 10s) : 0x11;
      return kAnswers;
    };
    step();
    ASSERT_LT(++count, 1000);
  }
  EXPECT_EQ(sweep_->progress().promising, 1U);
  EXPECT_NEAR(times("221A00"), 90, 15);
  EXPECT_NEAR(times("221A01"), 15, 3);
  EXPECT_GT(sweep_->progress().pass, 10);
}

TEST_F(SweepOfAUnit, RangesOfOneUnitAreOneListAndWhatStandsInTwoIsAskedOnce) {
  start("7E1:1A00-1A02");
  sweep_.emplace(std::vector{range_, *parse_sweep_range("7E1:1A02-1A03"), *parse_sweep_range("7E0:1A00")},
                 kBus);
  sweep_->begin();
  EXPECT_THAT(sweep_->units(), ElementsAre(unit_, Endpoint{kBus, standard_id(0x7E0), std::nullopt}));
  EXPECT_EQ(sweep_->progress().of, 5U);
  EXPECT_THAT(steps(5), ElementsAre("221A00", "221A01", "221A02", "221A03", ""));
}

TEST_F(SweepOfAUnit, OneThatIsLeftIsNotAskedAndNotCounted) {
  start("7E1:1A00-1A02");
  steps(1);
  sweep_->leave(unit_);
  EXPECT_EQ(step(), "");
  EXPECT_FALSE(sweep_->due(unit_));
  EXPECT_EQ(sweep_->progress().of, 0U);
  EXPECT_EQ(sweep_->progress().pass, 1);
}

TEST_F(SweepOfAUnit, WhatItSaidToAnotherTesterIsNoAnswerToOurQuestion) {
  start("7E1:1A00-1A02");
  ASSERT_TRUE(sweep_->take(unit_, now_));
  sweep_->on_exchange(refused_to_another({0x22, 0xF1, 0x90}));
  const auto next = sweep_->take(unit_, now_);
  ASSERT_TRUE(next);
  EXPECT_EQ(next->payload(), (Bytes{0x22, 0xF1, 0x90})) << "ours was not answered: is the unit alive?";
}

TEST_F(SweepOfAUnit, AnIdentifierThatItRefusedToAnotherTesterIsNotAskedForAgain) {
  start("7E1:1A00-1A02");
  sweep_->on_exchange(refused_to_another({0x22, 0x1A, 0x00}));
  Exchange of_another_unit = refused_to_another({0x22, 0x1A, 0x01});
  of_another_unit.request = Endpoint{kBus, standard_id(0x7E0), std::nullopt};
  sweep_->on_exchange(of_another_unit);
  EXPECT_EQ(sweep_->progress().asked, 1U);
  EXPECT_THAT(steps(3), ElementsAre("221A01", "221A02", ""));
}

TEST_F(SweepOfAUnit, ASilenceInALaterPassIsFollowedUpAtOnce) {
  start("7E1:1A00-1A01");
  answers_ = [](const Bytes&) { return kAnswers; };
  steps(2);
  ASSERT_EQ(sweep_->progress().pass, 2);
  now_ += 1min;
  const auto task = sweep_->take(unit_, now_);
  ASSERT_TRUE(task);
  Exchange silence;
  silence.asked_at = silence.ended_at = now_;
  silence.request = unit_;
  silence.asked = task->payload();
  sweep_->on_exchange(silence);
  EXPECT_EQ(sweep_->due(unit_), TimePoint::min()) << "not in twenty seconds";
  const auto alive = sweep_->take(unit_, now_);
  ASSERT_TRUE(alive);
  EXPECT_EQ(alive->payload(), (Bytes{0x22, 0x1A, 0x01})) << "what it answered last";
}

TEST_F(SweepOfAUnit, WhetherItIsAliveIsNeverAskedWithWhatMayNotLeave) {
  start("7E1:1A00-1AFF");
  Exchange theirs =
      refused_to_another({0x2E, 0x1A, 0x00, 0x01});  // another tester writes (ISO 14229-1 service 2E)
  theirs.response = {0x6E, 0x1A, 0x00};
  theirs.result = ExchangeResult::answered;
  sweep_->on_exchange(theirs);
  answers_ = [](const Bytes&) { return kSilent; };
  EXPECT_THAT(steps(3), ElementsAre("221A00", "221A01", "221A02")) << "nothing is known to ask for";
}

TEST_F(SweepOfAUnit, HowBusyItWasInThePastOfTheJobIsNoTrouble) {
  range_ = *parse_sweep_range("7E1:1A00-1AFF");
  unit_ = range_.unit(kBus);
  sweep_.emplace(std::vector{range_}, kBus);
  answers_ = [](const Bytes&) { return 0x21; };
  steps(10);
  EXPECT_FALSE(sweep_->trouble(unit_));
  sweep_->begin();
  steps(2);
  EXPECT_FALSE(sweep_->trouble(unit_)) << "it is counted anew";
  steps(1);
  EXPECT_TRUE(sweep_->trouble(unit_));
}

TEST_F(SweepOfAUnit, AQuestionWhetherItIsAliveThatWasTakenBackIsAskedAgain) {
  start("7E1:1A00-1AFF");
  steps(2);
  answers_ = [](const Bytes&) { return kSilent; };
  EXPECT_EQ(step(), "221A02");
  EXPECT_EQ(sweep_->progress().asked, 3U);
  ASSERT_TRUE(sweep_->take(unit_, now_));
  sweep_->take_back(unit_);
  EXPECT_FALSE(sweep_->trouble(unit_));
  EXPECT_EQ(sweep_->progress().asked, 3U) << "what is known to be answered was asked long before";
  EXPECT_EQ(step(), "221A01");
}

TEST_F(SweepOfAUnit, TooManyPromisingOnesAreAskedInTurnAndNobodyIsForgotten) {
  start("7E1:1A00-1A63");
  answers_ = [this](const Bytes& asked) {
    value_ = static_cast<std::uint8_t>(asked[2] < 80 ? asked_.size() / 500 : 0x11);
    return kAnswers;
  };
  for (int i = 0; i < 6000; ++i) step();
  EXPECT_EQ(sweep_->progress().promising, 80U);
  for (int id = 0; id < 100; ++id) {
    const std::uint8_t low = static_cast<std::uint8_t>(id);
    EXPECT_GT(times("221A" + hex_text(&low, 1)), id < 80 ? 50 : 8) << id;
  }
}

TEST_F(SweepOfAUnit, OneThatMovedSlowlyAndIsPutOffIsAskedAsSeldomAsTheOthers) {
  start("7E1:1A00");
  answers_ = [](const Bytes&) { return kAnswers; };
  step();
  ++value_;
  ASSERT_EQ(step(21s), "221A00");
  EXPECT_EQ(sweep_->due(unit_), now_ + 20ms + 3s);
  answers_ = [](const Bytes&) { return 0x22; };  // ISO 14229-1: conditions not correct
  ASSERT_EQ(step(4s), "221A00");
  EXPECT_EQ(sweep_->due(unit_), now_ + 20ms + 20s);
}

TEST_F(SweepOfAUnit, AnExchangeOfAnEarlierQuestionWithTheSameWordsLeavesTheOneThatIsOut) {
  start("7E1:1A00-1A01");
  answers_ = [](const Bytes&) { return kAnswers; };
  steps(2);
  now_ += 1min;
  const auto task = sweep_->take(unit_, now_);
  ASSERT_TRUE(task);
  Exchange earlier = refused_to_another(task->payload());
  earlier.asked_at = now_ - 1s;
  earlier.negative_code = 0x22;
  sweep_->on_exchange(earlier);
  EXPECT_EQ(sweep_->due(unit_), TimePoint::min());
  earlier.asked_at = now_;
  sweep_->on_exchange(earlier);
  EXPECT_GT(sweep_->due(unit_), TimePoint::min()) << "that was it";
}

TEST_F(SweepOfAUnit, OneThatIsStillAwaitedIsNotAskedAgainAndHoldsThePassUp) {
  start("7E1:1A00-1A01");
  answers_ = [](const Bytes&) { return kAnswers; };
  steps(2);
  ASSERT_EQ(sweep_->progress().pass, 2);
  now_ += 1min;
  const auto awaited = sweep_->take(unit_, now_);
  ASSERT_TRUE(awaited);
  Exchange late = refused_to_another(awaited->payload());
  ASSERT_EQ(step(), "221A01") << "is it alive? It is";
  EXPECT_EQ(sweep_->progress().pass, 2);
  EXPECT_EQ(sweep_->due(unit_), now_ + 20ms + 20s) << "not at once, as what was awaited would be";
  late.result = ExchangeResult::silent;
  sweep_->on_exchange(late);
  EXPECT_EQ(sweep_->progress().pass, 3);
}

TEST_F(SweepOfAUnit, AUnitThatNeverAnsweredIsNotAskedWithoutEnd) {
  start("7E1:1A00");
  for (int i = 0; i < 2; ++i) {
    const auto task = sweep_->take(unit_, now_);
    ASSERT_TRUE(task);
    Exchange silence = refused_to_another(task->payload());
    silence.result = ExchangeResult::silent;
    sweep_->on_exchange(silence);
  }
  EXPECT_FALSE(sweep_->take(unit_, now_));
  EXPECT_FALSE(sweep_->due(unit_));
}

TEST_F(SweepOfAUnit, ThePassIsThatOfTheUnitThatIsFarthestBehind) {
  start("7E0:1A00");
  sweep_.emplace(std::vector{range_, *parse_sweep_range("7E1:1A00")}, kBus);
  answers_ = [](const Bytes&) { return kAnswers; };
  ASSERT_EQ(step(), "221A00");
  EXPECT_EQ(sweep_->progress().pass, 1);
  unit_ = parse_sweep_range("7E1:1A00")->unit(kBus);
  ASSERT_EQ(step(), "221A00");
  EXPECT_EQ(sweep_->progress().pass, 2);
}

}  // namespace
}  // namespace sumplog
