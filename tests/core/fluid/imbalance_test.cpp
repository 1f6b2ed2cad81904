#include "core/fluid/imbalance.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

TEST(Imbalance, AnExchangeWhoseOnlyVolumeWasTakenBackIsNone) {
  Imbalance imbalance(ImbalanceLimits{0.5, 1.0});
  imbalance.on_volumes({{FluidWay::out, "exchange", 0.8}}, true, TimePoint{});
  EXPECT_TRUE(imbalance.ahead_l());
  imbalance.on_volumes({}, true, TimePoint{10s});
  EXPECT_FALSE(imbalance.ahead_l());
  std::vector<Event> events;
  (void)imbalance.update(TimePoint{100s}, events);
  EXPECT_FALSE(imbalance.level());
  EXPECT_THAT(events, IsEmpty());
}

class ImbalanceTest : public ::testing::Test {
 protected:
  void out(double litres, const std::string& part = "exchange") { enter({FluidWay::out, part, litres}); }
  void in(double litres, const std::string& part = "exchange") { enter({FluidWay::in, part, litres}); }
  void enter(CountedVolume volume) {
    now_ += 10s;
    const bool news = volume.part == kExchangePart;
    volumes_.push_back(std::move(volume));
    imbalance_.on_volumes(volumes_, news, now_);
    update();
  }
  void wait(Duration span) {
    now_ += span;
    update();
  }
  void update() {
    std::vector<Event> events;
    changed_ = imbalance_.update(now_, events);
    for (const Event& event : events) {
      cues_.push_back(std::get<CueEvent>(event).name);
      text_ = std::get<CueEvent>(event).text;
    }
  }
  std::string state() const {
    const auto level = imbalance_.level();
    return level ? std::string(text_of(*level)) : "";
  }

  Imbalance imbalance_{ImbalanceLimits{0.5, 1.0}};
  TimePoint now_ = at_micros(1700000000000000);
  std::vector<CountedVolume> volumes_;
  std::vector<std::string> cues_;
  std::string text_;
  bool changed_ = false;
};

TEST_F(ImbalanceTest, AnEvenExchangeIsBalancedAtEachStep) {
  for (int i = 0; i < 12; ++i) {
    out(1);
    in(1);
    EXPECT_EQ(state(), "balanced");
  }
  wait(10min);
  EXPECT_EQ(state(), "balanced");
  EXPECT_NEAR(imbalance_.ahead_l().value(), 0, 1e-9);
  EXPECT_THAT(cues_, IsEmpty());
}

TEST_F(ImbalanceTest, StopsAtHalfALitreAndAbortsAtOne) {
  // Common practice, no source; the limits are the service file's.
  out(5.2);
  in(5.1);
  EXPECT_EQ(state(), "balanced");
  out(1);
  in(0.6);
  EXPECT_EQ(state(), "stop");
  EXPECT_NEAR(imbalance_.ahead_l().value(), -0.5, 1e-9);
  EXPECT_THAT(text_, HasSubstr("0.5 L more out than in. Stop"));
  out(1);
  in(0.4);
  EXPECT_EQ(state(), "abort");
  EXPECT_THAT(text_, HasSubstr("1.1 L more out than in. Abort"));
  EXPECT_THAT(cues_, ElementsAre("imbalance_stop", "imbalance_abort"));
}

TEST_F(ImbalanceTest, TooMuchGoingInCountsTheSame) {
  out(4);
  in(5.2);
  EXPECT_EQ(state(), "abort");
  EXPECT_THAT(text_, HasSubstr("1.2 L more in than out"));
  EXPECT_THAT(cues_, ElementsAre("imbalance_abort"));
}

TEST_F(ImbalanceTest, EachCueComesOncePerCrossing) {
  out(1);
  in(0.4);
  out(0.1);
  in(0.05);
  EXPECT_THAT(cues_, ElementsAre("imbalance_stop")) << "still 0.65 L";
  in(0.5);
  EXPECT_EQ(state(), "balanced");
  out(1);
  in(0.5);
  EXPECT_THAT(cues_, ElementsAre("imbalance_stop", "imbalance_stop"));
}

TEST_F(ImbalanceTest, TheLastEntryWaitsForItsCounterpartAMinute) {
  out(2);
  EXPECT_EQ(state(), "") << "what went in is not entered yet";
  EXPECT_THAT(cues_, IsEmpty());
  ASSERT_TRUE(imbalance_.deadline());
  EXPECT_EQ(*imbalance_.deadline(), now_ + 60s);
  wait(60s);
  EXPECT_TRUE(changed_);
  EXPECT_EQ(state(), "abort");
  EXPECT_THAT(cues_, ElementsAre("imbalance_abort"));
  EXPECT_FALSE(imbalance_.deadline());
}

TEST_F(ImbalanceTest, ASecondVolumeTheSameWayDoesNotWait) {
  out(0.7);
  out(0.7);
  EXPECT_EQ(state(), "abort");
}

TEST_F(ImbalanceTest, WhileItWaitsWhatIsMissingAlreadyStaysMissing) {
  out(1);
  in(0.4);
  out(1);
  EXPECT_EQ(state(), "stop") << "at least that";
  in(1);
  EXPECT_EQ(state(), "stop");
}

TEST_F(ImbalanceTest, OtherPartsAreNoExchange) {
  out(4.5, "drain");
  EXPECT_FALSE(imbalance_.ahead_l());
  EXPECT_EQ(state(), "");
  EXPECT_FALSE(imbalance_.deadline());
}

TEST_F(ImbalanceTest, WithoutLimitsTheFigureStandsAlone) {
  imbalance_ = Imbalance({});
  out(3);
  in(1);
  EXPECT_NEAR(imbalance_.ahead_l().value(), -2, 1e-9);
  EXPECT_EQ(state(), "");
  EXPECT_THAT(cues_, IsEmpty());
  EXPECT_FALSE(imbalance_.deadline());
}

TEST_F(ImbalanceTest, ALittleOutIsBalancedBeforeItsCounterpartComes) {
  out(0.2);
  ASSERT_TRUE(imbalance_.deadline()) << "it waits for it all the same";
  EXPECT_EQ(state(), "balanced");
}

}  // namespace
}  // namespace sumplog
