#include "core/learn/learn_sheet.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;

/// One signal with these grounds.
SearchResult found(double pace, double start, double load) {
  Candidate one;
  one.source.from = {BusName("can0"), standard_id(0x3B2), std::nullopt};
  one.source.length = 8;
  one.per_s = 10;
  one.score[Ground::pace] = pace;
  one.score[Ground::start] = start;
  one.score[Ground::load] = load;
  FoundSignal signal;
  signal.places = {one};
  signal.probability = 0.9;
  SearchResult result;
  result.signals = {signal};
  result.none = 0.1;
  return result;
}
std::string sheet_of(const SearchResult& result) {
  std::string text;
  for (const std::string& line : learn_sheet(result, {})) text += line + '\n';
  return text;
}

TEST(LearnSheet, GroundsFromOneNatOnAreToldAndSmallerOnesAreNot) {
  const std::string sheet = sheet_of(found(1, -1, 0.9));
  EXPECT_THAT(sheet, HasSubstr("for it: " + std::string(text_of(Ground::pace)) + " 1.0\n"));
  EXPECT_THAT(sheet, HasSubstr("against it: " + std::string(text_of(Ground::start)) + " -1.0\n"));
  EXPECT_THAT(sheet, Not(HasSubstr(std::string(text_of(Ground::load)) + " 0.9")));
}

TEST(LearnSheet, WhatIsHardlyLikelyIsNotShown) {
  SearchResult result = found(3, 0, 0);
  result.signals.front().probability = 0.004;
  EXPECT_THAT(sheet_of(result), Not(HasSubstr("3B2")));
  EXPECT_THAT(sheet_of(found(3, 0, 0)), HasSubstr("frame 3B2"));
}

}  // namespace
}  // namespace sumplog
