#include "core/job/fluid_sums.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <sstream>

#include "core/journal/flow_run.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using ::testing::SizeIs;

/// A job with the invented demo family: 10 L, half a litre of them dead, limits of 0.5 and 1 L, bypass at 75 °C.
class FluidSumsTest : public ::testing::Test {
 protected:
  FluidSumsTest() : run_(demo_opening()) {}

  void enter(const std::string& name, const std::string& fields) {
    now_ += 1s;
    run_.feed(Entry{now_, "e" + std::to_string(++entries_), name, fields});
  }
  void out(const std::string& fields) { enter("fluid_out", "{" + fields + "}"); }
  void in(const std::string& fields) { enter("fluid_in", "{" + fields + "}"); }
  void begin(const std::string& stage) { enter("stage_begun", R"({"stage":")" + stage + "\"}"); }
  void end(const std::string& stage) { enter("stage_ended", R"({"stage":")" + stage + "\"}"); }
  void wait(Duration span) {
    now_ += span;
    run_.feed(Advance{now_});
  }
  void fluid(int celsius) {
    JobScript script{std::vector<Item>{}};
    now_ += 500ms;
    script.wait(now_ - script.now()).fluid(celsius);
    run_.feed(script.items());
    now_ = script.now();
  }
  BalanceEvent balance() const { return run_.all<BalanceEvent>().back(); }
  ExchangeEvent exchange() const { return run_.all<ExchangeEvent>().back(); }
  std::vector<std::string> cues(std::string_view name) const {
    std::vector<std::string> texts;
    for (const CueEvent& cue : run_.all<CueEvent>())
      if (cue.name == name) texts.push_back(cue.text);
    return texts;
  }

  FlowRun run_;
  TimePoint now_ = kJobStart + 1s;
  int entries_ = 0;
};

TEST_F(FluidSumsTest, ADrainAndARefillAreBalancedAsTheyAreEntered) {
  begin("drain and parts");
  out(R"("litres":4.20,"temp_c":60)");
  EXPECT_NEAR(balance().to_refill_l.value(), 4.074175, 1e-6);
  begin("refill");
  in(R"("litres":4.00,"temp_c":20)");
  EXPECT_NEAR(balance().to_refill_l.value(), 0.074175, 1e-6);
  EXPECT_EQ(balance().at, now_);
  EXPECT_EQ(balance().parts[0].part, "drain");
  EXPECT_EQ(balance().parts[1].part, "refill");
  EXPECT_FALSE(balance().exchange_ahead_l);
  EXPECT_THAT(balance().assumes, Contains("density 850 kg/m³ at 15 °C")) << "of the service file";
}

TEST_F(FluidSumsTest, AnExchangeIsWatchedAndEstimatedStepByStep) {
  begin("exchange");
  for (int i = 0; i < 6; ++i) {
    out(R"("litres":2.0)");
    in(R"("litres":2.0)");
  }
  EXPECT_EQ(balance().exchange_state, "balanced");
  EXPECT_NEAR(balance().exchange_ahead_l.value(), 0, 1e-9);
  ASSERT_THAT(exchange().steps, SizeIs(6));
  EXPECT_NEAR(exchange().steps.back().through_l, 12, 1e-9);
  EXPECT_NEAR(exchange().steps.back().new_mixed, 0.95 * (1 - 0.282752),
              1e-5);  // exp(−12/9.5), from another program
  EXPECT_THAT(cues("imbalance_stop"), IsEmpty());
}

TEST_F(FluidSumsTest, AnExchangeOutOfBalanceCallsOnceAtEachLimit) {
  begin("exchange");
  out(R"("litres":2.0)");
  in(R"("litres":1.4)");
  EXPECT_THAT(cues("imbalance_stop"), SizeIs(1));
  EXPECT_EQ(balance().exchange_state, "stop");
  out(R"("litres":1.0)");
  in(R"("litres":0.5)");
  EXPECT_THAT(cues("imbalance_stop"), SizeIs(1));
  EXPECT_THAT(cues("imbalance_abort"), SizeIs(1));
  EXPECT_EQ(balance().exchange_state, "abort");
}

TEST_F(FluidSumsTest, WhatHasNoCounterpartAfterAMinuteIsMissing) {
  begin("exchange");
  out(R"("litres":2.0)");
  EXPECT_EQ(balance().exchange_state, "");
  const TimePoint entered = now_;
  wait(2min);
  EXPECT_EQ(balance().exchange_state, "abort");
  EXPECT_EQ(balance().at, entered + 60s) << "at its deadline, not when the next item came";
  EXPECT_THAT(cues("imbalance_abort"), SizeIs(1));
}

TEST_F(FluidSumsTest, ASlipOfTheHandIsCorrectedWithoutDeletingAnything) {
  begin("drain and parts");
  out(R"("litres":42)");
  out(R"("litres":4.2,"replaces":"e2")");
  EXPECT_EQ(balance().out_l, 4.2);
  EXPECT_THAT(run_.all<EntryEvent>(), SizeIs(3)) << "both stand in the journal";
}

TEST_F(FluidSumsTest, AnEntryThatCannotBeCountedStandsInTheJournalAndIsSaid) {
  out(R"("litres":-3)");
  EXPECT_EQ(balance().out_l, 0);
  EXPECT_FALSE(balance().to_refill_l);
  EXPECT_THAT(balance().assumes, Contains("entry e1 (fluid out) is not counted: -3.00 is not from 0 to 200"));
  EXPECT_EQ(run_.all<EntryEvent>().back().fields, R"({"litres":-3})");
}

TEST_F(FluidSumsTest, AWantedShareTellsHowMuchMore) {
  enter("exchange_wanted", R"({"share":0.85})");
  EXPECT_THAT(exchange().steps, IsEmpty());
  EXPECT_NEAR(exchange().more_ideal_l.value(), 8.5, 1e-9);
  enter("exchange_wanted", R"({"share":0.97})");
  EXPECT_FALSE(exchange().more_mixed_l) << "half a litre of ten never leaves";
  enter("exchange_wanted", R"({"share":85})");
  EXPECT_FALSE(exchange().wanted_share);
  EXPECT_THAT(exchange().assumes, Contains("the share that is wanted is no number from 0 to 1"));
}

TEST_F(FluidSumsTest, WithTheBypassShutLittleFlowIsExpected) {
  for (int i = 0; i < 5; ++i) fluid(42);
  begin("line opened");
  ASSERT_THAT(cues("little_flow"), SizeIs(1));
  EXPECT_THAT(cues("little_flow")[0], HasSubstr("42 °C, below 75 °C"));
  end("line opened");
  begin("exchange");
  EXPECT_THAT(cues("little_flow"), SizeIs(2)) << "each time that somebody waits for fluid";
}

TEST_F(FluidSumsTest, WithTheBypassOpenThereIsNoSuchCall) {
  for (int i = 0; i < 5; ++i) fluid(76);
  begin("exchange");
  for (int i = 0; i < 5; ++i) fluid(74);
  EXPECT_THAT(cues("little_flow"), IsEmpty()) << "it was open when the exchange began";
}

TEST_F(FluidSumsTest, AnOldTemperatureSaysNothingOfTheBypass) {
  for (int i = 0; i < 5; ++i) fluid(42);
  wait(10s);
  begin("exchange");
  EXPECT_THAT(cues("little_flow"), IsEmpty());
  for (int i = 0; i < 5; ++i) fluid(43);
  EXPECT_THAT(cues("little_flow"), SizeIs(1)) << "as soon as it is known";
}

TEST_F(FluidSumsTest, FluidThatWentInMustMixFirstAndACorrectionOfItPoursNothing) {
  const auto not_mixed = [&] {
    const auto checks = run_.all<CheckEvent>();
    return !checks.empty() &&
           std::any_of(checks.back().why.begin(), checks.back().why.end(),
                       [](const std::string& why) { return why.starts_with("fluid is not mixed"); });
  };
  out(R"("litres":4)");
  EXPECT_FALSE(not_mixed());
  in(R"("litres":42,"replaces":"none")");
  EXPECT_FALSE(not_mixed());
  in(R"("litres":4)");
  EXPECT_TRUE(not_mixed());
}

TEST_F(FluidSumsTest, ARepeatedEntryCountsOnce) {
  out(R"("litres":4)");
  run_.feed(Entry{now_, "e1", "fluid_out", R"({"litres":4})"});
  EXPECT_EQ(balance().out_l, 4);
  EXPECT_THAT(run_.all<BalanceEvent>(), SizeIs(1));
}

/// The line of docs/journal.md that begins so.
std::string line_of_the_page(const std::string& begin) {
  std::istringstream page(file_text(std::string(SUMPLOG_SOURCE) + "/docs/journal.md"));
  std::string line;
  while (std::getline(page, line))
    if (line.starts_with(begin)) return line;
  return "no such line";
}

TEST(FluidSums, TheJournalPageShowsWhatComesOut) {
  const auto entry = [](Duration after, const char* id, const char* name, const char* fields) {
    return Entry{kJobStart + after, id, name, fields};
  };
  FlowRun balance(demo_opening());
  balance.feed(entry(60s, "1", "fluid_out", R"({"litres":4.2,"temp_c":60,"part":"drain"})"));
  balance.feed(entry(120s, "2", "fluid_in", R"({"litres":4.0,"temp_c":20,"part":"refill"})"));
  EXPECT_THAT(balance.lines(),
              Contains(line_of_the_page(R"({"t":1700000120.000000,"kind":"sums","of":"balance")")));

  FlowRun exchange(demo_opening());
  exchange.feed(entry(60s, "1", "exchange_wanted", R"({"share":0.85})"));
  for (int i = 0; i < 3; ++i) {
    const Duration at = 245s - (2 - i) * 65s;
    const std::string id = std::to_string(i);
    exchange.feed(
        entry(at, ("o" + id).c_str(), "fluid_out", R"({"litres":4,"temp_c":20,"part":"exchange"})"));
    exchange.feed(
        entry(at + 10s, ("i" + id).c_str(), "fluid_in", R"({"litres":4,"temp_c":20,"part":"exchange"})"));
  }
  EXPECT_THAT(exchange.lines(),
              Contains(line_of_the_page(R"({"t":1700000255.000000,"kind":"sums","of":"exchange")")));
}

TEST(FluidSums, WithoutAServiceFileTheBalanceIsToldAndTheExchangeIsNot) {
  FlowRun run({Settings{kJobStart, "job", "program", "", {}}});
  run.feed(Entry{kJobStart + 1s, "1", "fluid_out", R"({"litres":4,"part":"exchange"})"});
  run.feed(Entry{kJobStart + 2s, "2", "fluid_in", R"({"litres":2,"part":"exchange"})"});
  const auto balance = run.all<BalanceEvent>().back();
  EXPECT_NEAR(balance.exchange_ahead_l.value(), -2, 1e-9);
  EXPECT_EQ(balance.exchange_state, "");
  EXPECT_THAT(balance.assumes, Contains("density 850 ± 15 kg/m³ at 15 °C, nobody said"));
  EXPECT_THAT(run.all<ExchangeEvent>(), IsEmpty());
}

/// What is said after these entries of an exchange that begins at 20 °C.
std::vector<Event> said_of_an_exchange(const std::optional<ServiceFile>& service, const std::string& share) {
  FluidSums sums(service);
  ThermalEvent thermal;
  thermal.temp_c = 20;
  sums.on_thermal(thermal);
  std::vector<Event> events;
  int id = 0;
  const auto enter = [&](const char* name, const std::string& fields) {
    const TimePoint at = kJobStart + ++id * 1s;
    sums.on_entry(Entry{at, std::to_string(id), name, fields}, "exchange");
    sums.update(at, events);
  };
  enter("stage_begun", R"({"stage":"exchange"})");
  enter("exchange_wanted", R"({"share":)" + share + "}");
  enter("fluid_out", R"({"litres":2})");
  enter("fluid_in", R"({"litres":0.5})");
  return events;
}
template <class E>
std::vector<E> among(const std::vector<Event>& events) {
  std::vector<E> found;
  for (const Event& event : events)
    if (const auto* one = std::get_if<E>(&event)) found.push_back(*one);
  return found;
}

TEST(FluidSums, WhatTheServiceFileDoesNotNameIsNeitherHeldNorCalled) {
  ServiceFile bare;
  bare.fill_l = Sourced<double>{10, Origin::invented, "", 0};
  for (const std::optional<ServiceFile>& service :
       {std::optional<ServiceFile>(), std::optional(ServiceFile{}), std::optional(bare)}) {
    const auto events = said_of_an_exchange(service, "0.9");
    EXPECT_THAT(among<CueEvent>(events), IsEmpty()) << "neither limits nor a bypass";
    const auto balance = among<BalanceEvent>(events).back();
    EXPECT_EQ(balance.exchange_state, "");
    EXPECT_THAT(balance.assumes, Contains("density 850 ± 15 kg/m³ at 15 °C, nobody said"));
    EXPECT_EQ(among<ExchangeEvent>(events).empty(), !service || !service->fill_l);
  }
}

TEST(FluidSums, AShareThatIsNoneIsSaidAndTheWantIsDropped) {
  ServiceFile bare;
  bare.fill_l = Sourced<double>{10, Origin::invented, "", 0};
  for (const char* const share : {"-0.1", "1.1", "\"all\""}) {
    const auto exchange = among<ExchangeEvent>(said_of_an_exchange(bare, share)).back();
    EXPECT_FALSE(exchange.wanted_share) << share;
    EXPECT_THAT(exchange.assumes, Contains("the share that is wanted is no number from 0 to 1")) << share;
  }
  for (const char* const share : {"0", "1"})
    EXPECT_TRUE(among<ExchangeEvent>(said_of_an_exchange(bare, share)).back().wanted_share) << share;
}

}  // namespace
}  // namespace sumplog::testing
