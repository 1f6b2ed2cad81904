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

TEST(LearnSheet, WithoutAGroundOnOneSideThatSideIsNotNamed) {
  EXPECT_THAT(sheet_of(found(0, -2, 0)), Not(HasSubstr("  for it: ")));
  EXPECT_THAT(sheet_of(found(0, -2, 0)), HasSubstr("against it: "));
  EXPECT_THAT(sheet_of(found(2, 0, 0)), Not(HasSubstr("against it: ")));
}

TEST(LearnSheet, WhatIsHardlyLikelyIsNotShown) {
  SearchResult result = found(3, 0, 0);
  result.signals.front().probability = 0.004;
  EXPECT_THAT(sheet_of(result), Not(HasSubstr("3B2")));
  EXPECT_THAT(sheet_of(found(3, 0, 0)), HasSubstr("frame 3B2"));
}

TEST(LearnSheet, SaysWhatIsMissingWhatIsKnownAndWhatToDoNext) {
  SearchResult result = found(3, 0, 0);
  KnownCopy copy;
  copy.source.from = {BusName("can0"), standard_id(0x111), std::nullopt};
  copy.source.length = 8;
  copy.of = "coolant temperature";
  result.copies = {copy};
  EXPECT_THAT(sheet_of(result), HasSubstr("known    frame 111, byte 0: the coolant temperature once more\n"));
  EXPECT_THAT(sheet_of(result), HasSubstr("The coolant temperature is not in the recording"));
  EXPECT_THAT(sheet_of(result), HasSubstr("next     read the probe now (tells "));
  Evidence evidence;
  evidence.coolant_c.add(TimePoint{}, 80);
  EXPECT_THAT(learn_sheet(result, evidence).at(0), HasSubstr("readings by hand: 0"));
  for (const std::string& line : learn_sheet(result, evidence))
    EXPECT_THAT(line, Not(HasSubstr("The coolant temperature is not")));
}

TEST(LearnSheet, ASignalInSeveralPlacesNamesThemAllAndTheBetterSource) {
  SearchResult result = found(3, 0, 0);
  Candidate other = result.signals.front().places.front();
  other.source.from.id = standard_id(0x420);
  other.per_s = 50;
  other.encoding.fitted = true;
  result.signals.front().places.push_back(other);
  Candidate asked = other;
  asked.source.from.id = standard_id(0x7E9);
  asked.source.asked = Endpoint{BusName("can0"), standard_id(0x7E1), std::nullopt};
  asked.source.service = 0x22;
  asked.source.identifier = 0x1A05;
  result.signals.front().places.push_back(asked);
  result.signals.front().first_c = 18;
  result.signals.front().last_c = 42.25;
  result.signals.front().probability = 0.05;
  const std::string sheet = sheet_of(result);
  EXPECT_THAT(sheet, HasSubstr("5.0 %    frame 3B2"));
  EXPECT_THAT(sheet, HasSubstr("from 18.0 to 42.2 °C; nothing is asked, 10.0 a second"));
  EXPECT_THAT(sheet, HasSubstr("also in frame 420"));
  EXPECT_THAT(sheet, HasSubstr("(fitted)"));
  EXPECT_THAT(sheet, HasSubstr("the better source"));
  EXPECT_THAT(sheet, HasSubstr("has to be asked, 50.0"));
}

TEST(LearnLines, AreOneOfTheRecordingAndOneForEachPlaceCopyAndNextLook) {
  SearchResult result = found(3, -2, 0);
  result.end = TimePoint{std::chrono::seconds{600}};
  result.sources = 4;
  KnownCopy copy;
  copy.source.from = {BusName("can0"), standard_id(0x111), std::nullopt};
  copy.of = "coolant temperature";
  result.copies = {copy};
  const auto lines = learn_lines(result, {});
  ASSERT_GE(lines.size(), 4U);
  EXPECT_EQ(
      lines[0],
      R"({"kind":"learned","from_t":0.000000,"to_t":600.000000,"sources":4,"fields":0,"seen":0,"none":0.1000,)"
      R"("confident":false})");
  EXPECT_THAT(lines[1],
              HasSubstr(R"("kind":"signal","probability":0.9000,"source":"frame 3B2","bus":"can0")"));
  EXPECT_THAT(lines[1], HasSubstr(R"("byte_order":"big","signed":false,"scale":1.000000000)"));
  EXPECT_THAT(lines[1], HasSubstr(R"("preferred":true)"));
  EXPECT_THAT(
      lines[2],
      HasSubstr(R"({"kind":"copy","source":"frame 111","field":"byte 0","of":"coolant temperature"})"));
  EXPECT_THAT(lines[3], HasSubstr(R"({"kind":"next","what":")"));
  EXPECT_EQ(learn_lines({}, {}).size(), 1U);
  result.signals[0].places[0].field.byte_order = ByteOrder::little;
  EXPECT_THAT(learn_lines(result, {})[1], HasSubstr(R"("byte_order":"little")"));
}

}  // namespace
}  // namespace sumplog
