#include "core/fluid/exchange_estimate.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::SizeIs;

ServiceFile service(double fill_l, std::optional<double> dead_l = 0.0) {
  ServiceFile file;
  file.fill_l = Sourced<double>{fill_l, Origin::invented, "", 0};
  if (dead_l) file.dead_volume_l = Sourced<double>{*dead_l, Origin::invented, "", 0};
  return file;
}
CountedVolume out(double litres, const std::string& part) {
  return {FluidWay::out, part, litres};
}
CountedVolume in(double litres, const std::string& part) {
  return {FluidWay::in, part, litres};
}
std::vector<CountedVolume> through(double litres, int steps) {
  std::vector<CountedVolume> all;
  for (int i = 0; i < steps; ++i) {
    all.push_back(out(litres / steps, "exchange"));
    all.push_back(in(litres / steps, "exchange"));
  }
  return all;
}
ExchangeEvent estimate(const std::vector<CountedVolume>& volumes, const ServiceFile& file,
                       std::optional<double> wanted = {}) {
  return exchange_estimate(volumes, file, wanted).value();
}

double through_once(double litres) {
  return estimate({out(litres, "exchange"), in(litres, "exchange")}, service(10)).steps.back().new_mixed;
}

TEST(ExchangeEstimate, TwelveLitresThroughTheLineAndAPanChange) {
  // Common practice, no source: 10 L fill, 12 L through the cooler line and 4.5 L at the pan are about 83 % new if well mixed:
  // 1 − (1 − 4.5/10) · exp(−12/10) = 0.834. A claim of about 99 % lies above that, and below ideal displacement.
  auto volumes = through(12, 12);
  volumes.push_back(out(4.5, "drain"));
  volumes.push_back(in(4.5, "refill"));
  const auto exchange = estimate(volumes, service(10));
  EXPECT_NEAR(exchange.steps.back().through_l, 12, 1e-9);
  EXPECT_NEAR(exchange.steps.back().new_mixed, 1 - 0.55 * 0.301194, 1e-6);
  EXPECT_LT(exchange.steps.back().new_mixed, 0.99);
  EXPECT_GT(exchange.steps.back().new_ideal, 0.99);
  EXPECT_LT(exchange.steps.back().new_ideal, 1);
  EXPECT_NEAR(exchange.drained_share, 0.45, 1e-9);
  // Half a litre that no exchange reaches: 0.95 · (1 − (1 − 4.5/9.5) · exp(−12/9.5)) = 0.809.
  EXPECT_NEAR(estimate(volumes, service(10, 0.5)).steps.back().new_mixed, 0.809, 0.001);
}

TEST(ExchangeEstimate, WellMixedItDoesNotMatterWhetherThePanComesFirst) {
  std::vector<CountedVolume> volumes{out(4.5, "drain"), in(4.5, "refill")};
  const auto line = through(12, 12);
  volumes.insert(volumes.end(), line.begin(), line.end());
  EXPECT_NEAR(estimate(volumes, service(10)).steps.back().new_mixed, 0.834, 0.0005);
}

TEST(ExchangeEstimate, GoesStepByStep) {
  const auto exchange = estimate(through(12, 4), service(10));
  ASSERT_THAT(exchange.steps, SizeIs(4));
  double before_mixed = 0;
  double before_ideal = 0;
  for (std::size_t i = 0; i < 4; ++i) {
    const auto& step = exchange.steps[i];
    EXPECT_NEAR(step.through_l, 3.0 * static_cast<double>(i + 1), 1e-9);
    EXPECT_GT(step.new_mixed, before_mixed);
    EXPECT_GT(step.new_ideal, before_ideal);
    EXPECT_LE(step.new_mixed, step.new_ideal);
    before_mixed = step.new_mixed;
    before_ideal = step.new_ideal;
  }
  EXPECT_NEAR(exchange.steps[0].new_mixed, 1 - 0.740818, 1e-6);  // exp(−0.3), from another program
}

TEST(ExchangeEstimate, HowManyStepsTheSameLitresCameInChangesNothing) {
  EXPECT_NEAR(estimate(through(12, 1), service(10)).steps.back().new_mixed,
              estimate(through(12, 30), service(10)).steps.back().new_mixed, 1e-9);
}

TEST(ExchangeEstimate, OnlyWhatHasItsCounterpartWentThrough) {
  auto volumes = through(6, 6);
  volumes.push_back(out(1, "exchange"));
  EXPECT_NEAR(estimate(volumes, service(10)).steps.back().through_l, 6, 1e-9);
  volumes.push_back(in(0.4, "exchange"));
  EXPECT_NEAR(estimate(volumes, service(10)).steps.back().through_l, 6.4, 1e-9);
}

TEST(ExchangeEstimate, WhatTheExchangeLeftMissingIsFilledUpLater) {
  std::vector<CountedVolume> volumes{out(4, "exchange"), in(3, "exchange"), in(1, "refill")};
  // 3 L through a full box, then 1 L out and 1 L new in.
  EXPECT_NEAR(estimate(volumes, service(10)).steps.back().new_mixed, 1 - 0.740818 * 0.9, 1e-6);
}

TEST(ExchangeEstimate, WhereOnlyOneSideWasWrittenDownItSaysSo) {
  const auto exchange = estimate({in(6, "exchange"), in(6, "exchange")}, service(10));
  EXPECT_NEAR(exchange.steps.back().through_l, 12, 1e-9);
  EXPECT_THAT(exchange.assumes, Contains("as much came out in the exchange as went in, nobody said"));
  EXPECT_THAT(estimate({out(6, "exchange")}, service(10)).assumes,
              Contains("as much went in in the exchange as came out, nobody said"));
  EXPECT_THAT(estimate(through(12, 2), service(10)).assumes, Not(Contains(HasSubstr("nobody said"))));
}

TEST(ExchangeEstimate, DrainingAloneIsAnEstimateToo) {
  const auto exchange = estimate(
      {out(4, "drain"), in(4, "refill"), out(4, "drain"), in(3, "refill"), in(1, "top up")}, service(10));
  EXPECT_NEAR(exchange.steps.back().new_mixed, 1 - 0.36, 1e-9);
  EXPECT_EQ(exchange.steps.back().through_l, 0);
  EXPECT_NEAR(exchange.drained_share, 0.8, 1e-9);
}

TEST(ExchangeEstimate, WhatGoesInBeyondWhatCameOutIsNotCountedAsNew) {
  const auto exchange = estimate({out(4, "drain"), in(5, "refill")}, service(10));
  EXPECT_NEAR(exchange.steps.back().new_mixed, 0.4, 1e-9);
  EXPECT_THAT(exchange.assumes,
              Contains("1.00 L that went in beyond what had come out are not counted as new"));
}

TEST(ExchangeEstimate, SaysHowManyLitresAreMissingToTheWantedShare) {
  const auto exchange = estimate(through(12, 12), service(10), 0.9);
  EXPECT_EQ(exchange.wanted_share, 0.9);
  EXPECT_NEAR(exchange.more_mixed_l.value(), 23.02585 - 12, 1e-5);
  EXPECT_EQ(exchange.more_ideal_l, 0.0);
  const auto never = estimate(through(12, 12), service(10, 1.5), 0.9);
  EXPECT_FALSE(never.more_mixed_l);
  EXPECT_FALSE(never.more_ideal_l);
  EXPECT_FALSE(estimate(through(12, 12), service(10)).wanted_share);
}

TEST(ExchangeEstimate, BeforeAnythingIsNewThereAreNoSteps) {
  EXPECT_THAT(estimate({out(4, "drain")}, service(10)).steps, IsEmpty());
  EXPECT_THAT(estimate({}, service(10), 0.9).steps, IsEmpty());
  EXPECT_NEAR(estimate({}, service(10), 0.9).more_mixed_l.value(), 23.02585, 1e-5);
}

TEST(ExchangeEstimate, NothingCanBeSaidWithoutAFillQuantity) {
  EXPECT_FALSE(exchange_estimate(through(12, 12), ServiceFile{}, 0.9));
}

TEST(ExchangeEstimate, ADeadVolumeThatNobodyNamedIsSaid) {
  EXPECT_THAT(estimate(through(12, 12), service(10, {})).assumes,
              Contains("nothing stays that no exchange reaches, nobody said"));
}

TEST(ExchangeEstimate, KeepsTheLatestStepsOfManyInOneLine) {
  const auto exchange = estimate(through(200, 1000), service(10));
  EXPECT_LE(exchange.steps.size(), 50U);
  EXPECT_NEAR(exchange.steps.back().through_l, 200, 1e-6);
  EXPECT_LT(exchange.steps.back().new_ideal, 1);
}

TEST(ExchangeEstimate, WhatGoesInFirstWaitsForWhatComesOut) {
  const auto in_first = estimate({in(3, "exchange"), out(3, "exchange")}, service(10));
  ASSERT_THAT(in_first.steps, SizeIs(1)) << "nothing is through before both are there";
  EXPECT_NEAR(in_first.steps.back().through_l, 3, 1e-12);
  EXPECT_NEAR(in_first.steps.back().new_mixed, through_once(3), 1e-12);
}

TEST(ExchangeEstimate, NothingThatWasEnteredMeasuresNoSide) {
  const auto exchange = estimate({out(3, "exchange"), in(0, "exchange")}, service(10));
  ASSERT_FALSE(exchange.steps.empty());
  EXPECT_NEAR(exchange.steps.back().through_l, 3, 1e-12);
  EXPECT_THAT(exchange.assumes, Contains(HasSubstr("as much went in in the exchange as came out")));
}

}  // namespace
}  // namespace sumplog
