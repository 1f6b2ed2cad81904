#include <array>
#include <cmath>
#include <cstdio>
#include <functional>

#include "core/journal/flow_run.h"

namespace sumplog {
namespace {

using testing::FlowRun;

constexpr TimePoint at_second(int s) {
  return at_micros(s * std::int64_t{1000000});
}
double seconds(TimePoint at) {
  return in_seconds(at - TimePoint{});
}

/// Readings of a table, one a second, beginning at 0. Item n + 1 is the row of second n.
std::vector<Item> table(const std::string& window, const std::string& step, int length_s,
                        const std::function<double(double)>& course, int decimals) {
  std::vector<Item> items{
      Settings{{}, "capture", "", "", {{"window", window}, {"step_c", step}, {"rounding", "round"}}}};
  for (int s = 0; s <= length_s; ++s) {
    std::array<char, 32> text{};
    std::snprintf(text.data(), text.size(), "%.*f", decimals, course(s));
    items.push_back(GivenReading{at_second(s), "fluid_temperature", text.data()});
  }
  items.push_back(End{at_second(length_s)});
  return items;
}

/// When the window state became `to`, in seconds.
std::vector<double> times(const FlowRun& run, WindowState to) {
  std::vector<double> all;
  for (const WindowEvent& w : run.all<WindowEvent>())
    if (w.to == to) all.push_back(seconds(w.at));
  return all;
}

// Newton's law of warming, T = 90 - 70 exp(-t / 600 s): 35 °C at 144.697 s, 45 °C at 265.100 s.
double newton(double s) {
  return 90 - 70 * std::exp(-s / 600);
}
constexpr double kEnters_s = 144.697234;
constexpr double kLeaves_s = 265.099651;
constexpr double kSampling_s = 1;

TEST(WarmUp, ByNewtonsLawInFineStepsEntersAndLeavesWithinASample) {
  FlowRun run(table("35:45", "0.01", 400, newton, 2));
  ASSERT_EQ(times(run, WindowState::inside).size(), 1U);
  ASSERT_EQ(times(run, WindowState::above).size(), 1U);
  // 0.1 °C, as sure as the estimate is, are 1.1 s at 5.5 °C/min. The reading itself must lie inside.
  const double sure_s = 0.1 / 5.5 * 60;
  EXPECT_GE(times(run, WindowState::inside).front(), kEnters_s);
  EXPECT_LE(times(run, WindowState::inside).front(), kEnters_s + sure_s + kSampling_s);
  EXPECT_NEAR(times(run, WindowState::above).front(), kLeaves_s, sure_s + kSampling_s);
}

TEST(WarmUp, ByNewtonsLawInStepsOfOneDegreeIsResolvedFarBelowTheStep) {
  // A reading of 35 stands from 34.5 °C (139.3 s) to 35.5 °C (150.2 s): as it stands it would be 5 s off.
  FlowRun run(table("35:45", "1", 400, newton, 0));
  ASSERT_EQ(times(run, WindowState::inside).size(), 1U);
  ASSERT_EQ(times(run, WindowState::above).size(), 1U);
  const double quantisation_s = 3;  // 0.2 °C at 4.5 °C/min
  EXPECT_NEAR(times(run, WindowState::inside).front(), kEnters_s, kSampling_s + quantisation_s);
  EXPECT_NEAR(times(run, WindowState::above).front(), kLeaves_s, kSampling_s + quantisation_s);
}

TEST(WarmUp, ByNewtonsLawIsForetoldBeforeItHappens) {
  FlowRun run(table("35:45", "1", 400, newton, 0));
  int told = 0;
  for (const ThermalEvent& t : run.all<ThermalEvent>()) {
    const double left = kEnters_s - seconds(t.at);
    if (left < 5 || left > 50) continue;
    ASSERT_TRUE(t.enter_in_s && (*t.enter_in_s)[1]) << left;
    // A straight line runs ahead of a curve that flattens: by less than a fifth of what is left.
    EXPECT_NEAR(*(*t.enter_in_s)[1], left, 0.2 * left + 3);
    ++told;
  }
  EXPECT_GE(told, 40);
}

// Common practice, no source: a check temperature of 39 °C kept as 38…40 °C on a sensor with 1 °C steps.
constexpr double kRate_c_per_min = 1.5;
double slow(double s) {
  return 33 + kRate_c_per_min / 60 * s;  // 36 °C at 120 s, 38 °C at 200 s, 40 °C at 280 s
}

TEST(WarmUp, ANarrowWindowAtThirtySixDegreesIsBelowAndForetold) {
  FlowRun run(table("38:40", "1", 400, slow, 0));
  std::optional<ThermalEvent> at_36;
  for (const ThermalEvent& t : run.all<ThermalEvent>())
    if (t.at == at_second(120)) at_36 = t;
  ASSERT_TRUE(at_36);
  EXPECT_EQ(at_36->window, WindowState::below);
  ASSERT_TRUE(at_36->enter_in_s && at_36->stay_s);
  EXPECT_NEAR(*(*at_36->enter_in_s)[1], 80, 10);
  EXPECT_NEAR(*(*at_36->stay_s)[1], 80, 16);  // a warm-up is expected to flatten; this line does not
  EXPECT_EQ(at_36->flags, std::vector<std::string>{"fast"}) << "80 s are less than the 120 s of the default";
}

TEST(WarmUp, ANarrowWindowStartsAfterAboutEightySecondsAndLastsAboutEighty) {
  FlowRun run(table("38:40", "1", 400, slow, 0));
  ASSERT_EQ(times(run, WindowState::inside).size(), 1U);
  ASSERT_EQ(times(run, WindowState::above).size(), 1U);
  const double starts = times(run, WindowState::inside).front();
  const double ends = times(run, WindowState::above).front();
  // 0.15 °C are 6 s at 1.5 °C/min; it is entered 0.1 °C (4 s) inside its edge.
  EXPECT_NEAR(starts - 120, 80, 10);
  EXPECT_NEAR(ends - starts, 80, 10);
}

TEST(WarmUp, ARowWithoutAReadingIsUnknownForThatSecond) {
  auto items = table("35:45", "1", 250, newton, 0);
  std::get<GivenReading>(items[200 + 1]).value.clear();
  FlowRun run(items);
  EXPECT_EQ(times(run, WindowState::unknown), std::vector<double>{200});
  EXPECT_EQ(times(run, WindowState::inside).back(), 201);
}

TEST(WarmUp, ATableWithAHoleHasAGapAndNoStaleWindow) {
  auto items = table("35:45", "1", 250, newton, 0);
  items.erase(items.begin() + 1 + 190, items.begin() + 1 + 200);
  FlowRun run(items);
  ASSERT_EQ(run.all<GapEvent>().size(), 1U);
  EXPECT_EQ(run.all<GapEvent>().front().from, at_second(189));
  EXPECT_EQ(run.all<GapEvent>().front().to, at_second(200));
  ASSERT_EQ(times(run, WindowState::unknown).size(), 1U);
  EXPECT_NEAR(times(run, WindowState::unknown).front(), 192.000001, 1e-9);
}

}  // namespace
}  // namespace sumplog
