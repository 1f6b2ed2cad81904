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
