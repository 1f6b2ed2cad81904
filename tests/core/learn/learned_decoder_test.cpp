#include "core/learn/learned_decoder.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>

#include "core/decoder/decoder.h"
#include "core/diagnostics/service.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

const BusName kBus("can0");

/// A fluid temperature that was found in a recording, and the decoder that is written of it.
class LearnedDecoderTest : public ::testing::Test {
 protected:
  void answered(const Endpoint& request, const Endpoint& unit, std::vector<std::uint8_t> asked,
                const std::vector<std::uint8_t>& data) {
    Exchange exchange;
    exchange.request = request;
    exchange.unit = unit;
    exchange.response = asked;
    exchange.response[0] = static_cast<std::uint8_t>(exchange.response[0] + 0x40);
    exchange.response.insert(exchange.response.end(), data.begin(), data.end());
    exchange.asked = std::move(asked);
    exchange.result = ExchangeResult::answered;
    for (int i = 0; i < 10; ++i) {
      exchange.ended_at = TimePoint{i * 2s};
      log_.on_exchange(exchange);
    }
    place_.source = log_.series().begin()->first;
  }
  void heard(CanId id, const std::vector<std::uint8_t>& data) {
    for (int i = 0; i < 10; ++i) log_.on_frame(data_frame(TimePoint{i * 2s}, kBus, id, data));
    place_.source = log_.series().begin()->first;
  }
  /// The decoder file, which the parser has taken.
  LearnedDecoder learn() {
    FoundSignal signal;
    signal.places = {place_};
    if (copy_) signal.places.push_back(*copy_);
    signal.probability = 0.99;
    SearchResult result;
    result.end = TimePoint{20s};
    result.signals = {signal};
    const auto learned = learned_decoder("learned", place_, signal, result, evidence_, log_);
    EXPECT_TRUE(learned) << (learned ? "" : learned.error().text());
    return learned.value_or(LearnedDecoder{});
  }
  /// What the decoder that was written makes of a payload, in °C.
  std::optional<double> reads(const std::vector<std::uint8_t>& payload) {
    const auto decoder = parse_decoder(learn().signals, "learned/signals.toml");
    if (!decoder) return std::nullopt;
    const auto value = decode(decoder->signals.at(0), payload);
    return value ? std::optional(*value) : std::nullopt;
  }

  PayloadLog log_{AddressBook()};
  Candidate place_;
  std::optional<Candidate> copy_;
  Evidence evidence_;
};

TEST_F(LearnedDecoderTest, AnIdentifierIsAskedOfItsUnit) {
  answered({kBus, standard_id(0x7E1), std::nullopt}, {kBus, standard_id(0x7E9), std::nullopt},
           {0x22, 0x1A, 0x05}, {0x4B, 0x00});
  place_.encoding = {1, -40};
  const std::string text = learn().signals;
  EXPECT_THAT(text, HasSubstr("[[ecu]]\nid = \"unit\"\nrequest = 0x7E1\nresponse = 0x7E9\n"));
  EXPECT_THAT(text, HasSubstr("did = 0x1A05\necu = \"unit\"\n"));
  EXPECT_THAT(text, HasSubstr("poll_s = 0.5\n"));
  EXPECT_THAT(text, Not(HasSubstr("addressing")));
  EXPECT_THAT(text, Not(HasSubstr("service = ")));
  EXPECT_EQ(reads({0x4B, 0x00}), 35);
}

TEST_F(LearnedDecoderTest, ALocalIdentifierNamesItsService) {
  answered({kBus, standard_id(0x7E1), std::nullopt}, {kBus, standard_id(0x7E9), std::nullopt}, {0x21, 0x05},
           {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals, HasSubstr("service = 0x21\ndid = 0x5\necu = \"unit\"\n"));
}

TEST_F(LearnedDecoderTest, TheAddressByteOfAUnitStandsInTheDecoder) {
  answered({kBus, standard_id(0x6F1), 0x18}, {kBus, standard_id(0x618), 0xF1}, {0x22, 0x1A, 0x05}, {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals,
              HasSubstr("addressing = \"extended\"\nrequest_address = 0x18\nresponse_address = 0xF1\n"));
}

TEST_F(LearnedDecoderTest, WithoutTheAddressByteOfItsAnswersAUnitHasNoDecoder) {
  answered({kBus, standard_id(0x6F1), 0x18}, {kBus, standard_id(0x618), std::nullopt}, {0x22, 0x1A, 0x05},
           {0x4B});
  place_.encoding = {1, -40};
  FoundSignal signal;
  signal.places = {place_};
  const auto learned = learned_decoder("learned", place_, signal, SearchResult{}, evidence_, log_);
  ASSERT_FALSE(learned);
  EXPECT_THAT(learned.error().text(), HasSubstr("response_address"));
}

TEST_F(LearnedDecoderTest, MixedAddressingIsToldByItsIdentifier) {
  answered({kBus, extended_id(0x18CE18F1), 0x05}, {kBus, extended_id(0x18CEF118), 0x05}, {0x22, 0x1A, 0x05},
           {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals,
              HasSubstr("addressing = \"mixed\"\nrequest_address = 0x5\nresponse_address = 0x5\n"));
}

TEST_F(LearnedDecoderTest, ALongIdentifierWithASmallNumberIsSaidToBeLong) {
  heard(extended_id(0x123), {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals, HasSubstr("frame = 0x123\nextended = true\n"));
  EXPECT_THAT(learn().signals, Not(HasSubstr("poll_s")));
}

TEST_F(LearnedDecoderTest, ALongIdentifierWithALargeNumberNeedsNoWord) {
  heard(extended_id(0x18FF1234), {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals, HasSubstr("frame = 0x18FF1234\nlength"));
}

TEST_F(LearnedDecoderTest, StepsOfFahrenheitAreADecoderOfFahrenheit) {
  heard(standard_id(0x3B2), {0x5F});
  place_.encoding = {5.0 / 9, -160.0 / 9, true};  // the raw number is °F
  EXPECT_THAT(learn().signals, HasSubstr("unit = \"degF\"\n"));
  EXPECT_THAT(learn().signals, HasSubstr("scale = 1\noffset = 0\n"));
  const auto value = reads({0x5F});
  ASSERT_TRUE(value);
  EXPECT_NEAR(*value, 35, 1e-9);
}

TEST_F(LearnedDecoderTest, ASignedFieldHasNoPatternForNoValueAndReadsBelowZero) {
  heard(standard_id(0x3B2), {0x01, 0x5E});
  place_.field = {0, 16, ByteOrder::big, true};
  place_.encoding = {0.1, 0};
  const std::string text = learn().signals;
  EXPECT_THAT(text, HasSubstr("signed = true\n"));
  EXPECT_THAT(text, HasSubstr("decimals = 1\n"));
  EXPECT_THAT(text, Not(HasSubstr("no_value")));
  EXPECT_NEAR(reads({0x01, 0x5E}).value_or(0), 35, 1e-9);
  EXPECT_NEAR(reads({0xFF, 0xCE}).value_or(0), -5, 1e-9);
}

TEST_F(LearnedDecoderTest, WhereNothingBelowZeroCanBeSentNoCheckOfItIsMadeUp) {
  heard(standard_id(0x3B2), {0x23});
  place_.encoding = {1, 0};
  EXPECT_THAT(learn().signals, Not(HasSubstr("below zero")));
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals, HasSubstr("below zero"));
}

TEST_F(LearnedDecoderTest, WhatWasRecordedBelowWhatAFluidCanHaveIsNoCheck) {
  heard(standard_id(0x3B2), {0x05});
  place_.encoding = {1, -50};
  EXPECT_THAT(learn().signals, HasSubstr("valid = [-40, 170]"));
  EXPECT_THAT(learn().signals, Not(HasSubstr("recorded")));
}

TEST_F(LearnedDecoderTest, WhatWasRecordedOutsideOfWhatAFluidCanHaveIsNoCheck) {
  heard(standard_id(0x3B2), {0xFF});  // "not available" all the time
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().signals, Not(HasSubstr("# recorded")));
}

TEST_F(LearnedDecoderTest, TheNotesSayWhatItRestsOnAndWhereTheSameSignalStands) {
  heard(standard_id(0x3B2), {0x4B});
  place_.encoding = {1, -40};
  EXPECT_THAT(learn().notes, HasSubstr("no reading by hand"));
  EXPECT_THAT(learn().notes, Not(HasSubstr("The same signal stands in")));
  evidence_.seen.resize(2);
  place_.encoding.fitted = true;
  copy_ = place_;
  copy_->source.from.id = standard_id(0x420);
  const std::string notes = learn().notes;
  EXPECT_THAT(notes, HasSubstr("readings by hand: 2; scale and offset fitted to them"));
  EXPECT_THAT(notes, HasSubstr("The same signal stands in:\n\n- frame 420"));
}

}  // namespace
}  // namespace sumplog
