#include "core/learn/next_look.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using ::testing::Contains;
using ::testing::Not;

/// Two signals that are as likely: one rises within ten minutes, the other stands still.
std::vector<std::string> looks_at(double last_c, double rise_c = 6.5) {
  SearchResult result;
  for (const double first_c : {last_c - rise_c, 60.0}) {
    FoundSignal signal;
    signal.places = {Candidate{}};
    signal.probability = 0.45;
    signal.first_c = first_c;
    signal.last_c = first_c == 60 ? 60 : last_c;
    result.signals.push_back(signal);
  }
  result.none = 0.1;
  result.end = result.begin + std::chrono::minutes{10};
  std::vector<std::string> what;
  for (const NextLook& look : next_looks(result, {})) what.push_back(look.what);
  return what;
}

TEST(NextLook, AReadingAheadIsAtLeastEightDegreesAhead) {
  EXPECT_THAT(looks_at(21.5), Contains("read the probe again at about 30 °C"));
  EXPECT_THAT(looks_at(22.5), Not(Contains("read the probe again at about 30 °C")));
  EXPECT_THAT(looks_at(22.5), Contains("read the probe now"));
}

TEST(NextLook, NobodyIsSentToWaitForHalfAnHour) {
  EXPECT_THAT(looks_at(20, 1), Not(Contains("read the probe again at about 30 °C")));
  EXPECT_THAT(looks_at(20, -1), Not(Contains("read the probe again at about 30 °C"))) << "it cools";
}

TEST(NextLook, WhoHasDrivenAndRecordedTheCoolantIsNotSentToDoSo) {
  SearchResult result;
  FoundSignal signal;
  signal.places = {Candidate{}};
  signal.probability = 0.5;
  result.signals = {signal};
  const auto looks_with = [&](double km_h) {
    Evidence evidence;
    if (km_h >= 0) evidence.speed_kmh.add(TimePoint{}, km_h);
    evidence.coolant_c.add(TimePoint{}, 80);
    std::vector<std::string> what;
    for (const NextLook& look : next_looks(result, evidence)) what.push_back(look.what);
    return what;
  };
  EXPECT_THAT(looks_with(-1), Contains("drive 3 min, and record it"));
  EXPECT_THAT(looks_with(3), Contains("drive 3 min, and record it")) << "moved about in the yard";
  EXPECT_THAT(looks_with(50), Not(Contains("drive 3 min, and record it")));
  EXPECT_THAT(looks_with(50), Not(Contains("record the coolant temperature as well")));
}

TEST(NextLook, NothingIsAskedForThatTellsNothing) {
  SearchResult result;
  FoundSignal signal;
  signal.places = {Candidate{}};
  signal.probability = 0.5;
  signal.first_c = 20, signal.last_c = 40;
  result.signals = {signal, signal};
  result.end = result.begin + std::chrono::minutes{10};
  Evidence evidence;
  evidence.speed_kmh.add(TimePoint{}, 50);
  evidence.coolant_c.add(TimePoint{}, 80);
  EXPECT_TRUE(next_looks(result, evidence).empty()) << "both go along in everything";
}

TEST(NextLook, ASignalThatCannotBeItTellsNothing) {
  SearchResult result;
  FoundSignal signal;
  signal.places = {Candidate{}};
  signal.probability = 0.5;
  result.signals = {signal};
  const auto one = next_looks(result, {});
  signal.probability = 0;
  signal.last_c = 40;
  result.signals.push_back(signal);
  const auto two = next_looks(result, {});
  ASSERT_EQ(two.size(), one.size());
  EXPECT_NEAR(two.front().gain_bits, one.front().gain_bits, 1e-9);
}

TEST(NextLook, WhoIsSureNeedsNoMore) {
  SearchResult result;
  EXPECT_TRUE(next_looks(result, {}).empty());
  FoundSignal signal;
  signal.places = {Candidate{}};
  signal.probability = SearchResult::kConfident;
  result.signals = {signal};
  EXPECT_TRUE(next_looks(result, {}).empty());
}

}  // namespace
}  // namespace sumplog
