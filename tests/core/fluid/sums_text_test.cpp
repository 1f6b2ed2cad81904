#include "core/fluid/sums_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

BalanceEvent balance() {
  BalanceEvent e;
  e.reference_c = 20;
  e.out_l = 4.074175;
  e.in_l = 4;
  e.to_refill_l = 0.074175;
  e.fresh_c = 20;
  return e;
}

ExchangeEvent exchange() {
  ExchangeEvent e;
  e.fill_l = 10;
  e.steps = {{12, 0.8343, 0.999}};
  return e;
}

TEST(SumsText, TellsWhatGoesBackIn) {
  EXPECT_EQ(balance_text(balance()), "fluid out 4.07 L, in 4.00 L at 20 °C; 0.07 L go back in, at 20 °C");
}

TEST(SumsText, TellsTooMuchAndEven) {
  auto e = balance();
  e.to_refill_l = -0.8;
  EXPECT_THAT(balance_text(e), HasSubstr("0.80 L more went in than came out"));
  e.to_refill_l = -0.001;
  EXPECT_THAT(balance_text(e), HasSubstr("as much went in as came out"));
  e.to_refill_l.reset();
  EXPECT_EQ(balance_text(e), "fluid out 4.07 L, in 4.00 L at 20 °C");
}

TEST(SumsText, TellsHowTheExchangeStands) {
  auto e = balance();
  e.exchange_ahead_l = -0.6;
  e.exchange_state = "stop";
  EXPECT_THAT(balance_text(e), HasSubstr("; exchange stop, 0.60 L more out than in"));
  e.exchange_ahead_l = 0.2;
  e.exchange_state = "";
  EXPECT_THAT(balance_text(e), HasSubstr("; exchange so far, 0.20 L more in than out"));
  e.exchange_ahead_l = 0.0;
  e.exchange_state = "balanced";
  EXPECT_THAT(balance_text(e), HasSubstr("; exchange balanced, even"));
}

TEST(SumsText, HidesNoAssumption) {
  auto e = balance();
  e.assumes = {"one", "two"};
  EXPECT_THAT(balance_text(e), HasSubstr(" (one; two)"));
}

TEST(SumsText, RoundsTheShareOfNewFluidDown) {
  EXPECT_EQ(percent_text(0.8343), "83 %");
  EXPECT_EQ(percent_text(0.8399), "83 %");
  EXPECT_EQ(percent_text(0.999), "99 %") << "never a hundred";
  EXPECT_EQ(percent_text(0.29), "29 %");
  EXPECT_EQ(exchange_text(exchange()),
            "exchange: 12.0 L through, new fluid 83 % if well mixed, 99 % if ideally displaced");
}

TEST(SumsText, TellsHowMuchMoreReachesTheWantedShare) {
  auto e = exchange();
  e.wanted_share = 0.9;
  e.more_mixed_l = 5.06;
  e.more_ideal_l = 0.0;
  EXPECT_THAT(exchange_text(e),
              HasSubstr("90 % new needs 5.1 L more if well mixed, 0.0 L if ideally displaced"));
  e.more_mixed_l = 0.0;
  EXPECT_THAT(exchange_text(e), HasSubstr("90 % new is reached"));
  e.more_mixed_l.reset();
  e.more_ideal_l = 2.0;
  EXPECT_THAT(exchange_text(e), HasSubstr("needs 2.0 L more at least, and is out of reach if well mixed"));
  e.more_ideal_l.reset();
  EXPECT_THAT(exchange_text(e), HasSubstr("90 % new is out of reach"));
  e.steps.clear();
  EXPECT_THAT(exchange_text(e), HasSubstr("exchange: nothing new yet; "));
}

TEST(SumsText, NamesNoTemperatureWhereNobodySaidHowWarmTheNewFluidIs) {
  auto e = balance();
  e.fresh_c.reset();
  EXPECT_EQ(balance_text(e), "fluid out 4.07 L, in 4.00 L at 20 °C; 0.07 L go back in");
}

TEST(SumsText, TellsHowFarThePlugMissedTheWindowAndWhatThatIsWorth) {
  LevelSumsEvent e;
  e.plug_in_c = 50;
  e.edge_c = 45;
  e.fill_l = 9;
  e.short_ml = {30.2, 35.1, 40.4};
  e.assumes = {"one", "two"};
  EXPECT_EQ(level_text(e),
            "level: plug in at 50 °C, 5 °C above the window: about 35 mL too little (30 to 40 mL; 9.0 L, "
            "one; two)");
  e.plug_in_c = 31;
  e.edge_c = 35;
  e.short_ml = {-40.4, -35.1, -30.2};
  EXPECT_EQ(
      level_text(e),
      "level: plug in at 31 °C, 4 °C below the window: about 35 mL too much (30 to 40 mL; 9.0 L, one; two)");
}

}  // namespace
}  // namespace sumplog
