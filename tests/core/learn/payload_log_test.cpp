#include "core/learn/payload_log.h"

#include <gtest/gtest.h>

#include "core/j1939/packets.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

class PayloadLogTest : public ::testing::Test {
 protected:
  void hear(CanId id, std::vector<std::uint8_t> bytes, Duration at) {
    log_.on_frame(data_frame(TimePoint{at}, BusName("can0"), id, bytes));
  }
  void answer(std::vector<std::uint8_t> asked, std::vector<std::uint8_t> response, Duration at) {
    Exchange exchange;
    exchange.ended_at = TimePoint{at};
    exchange.request = {BusName("can0"), standard_id(0x7E1), std::nullopt};
    exchange.unit = Endpoint{BusName("can0"), standard_id(0x7E9), std::nullopt};
    exchange.asked = std::move(asked);
    exchange.response = std::move(response);
    exchange.result = ExchangeResult::answered;
    log_.on_exchange(exchange);
  }
  PayloadLog log_{AddressBook()};
};

TEST_F(PayloadLogTest, KeepsOnePayloadASecondOfABroadcast) {
  for (int i = 0; i < 100; ++i) hear(standard_id(0x3B2), {1, static_cast<std::uint8_t>(i)}, i * 100ms);
  ASSERT_EQ(log_.series().size(), 1U);
  const PayloadSeries& series = log_.series().begin()->second;
  EXPECT_EQ(series.size(), 10U);
  EXPECT_EQ(series.heard(), 100U);
  EXPECT_EQ(series.payload(3)[1], 30);
  EXPECT_EQ(text_of(series.source()), "frame 3B2");
}

TEST_F(PayloadLogTest, AnotherLengthIsAnotherSource) {
  hear(standard_id(0x3B2), {1, 2}, 0s);
  hear(standard_id(0x3B2), {1, 2, 3}, 1s);
  hear(standard_id(0x3B2), {1, 2}, 2s);
  EXPECT_EQ(log_.series().size(), 2U);
}

TEST_F(PayloadLogTest, DiagnosticFramesAndPartsOfTransfersAreNoBroadcasts) {
  hear(standard_id(0x7E8), {3, 0x41, 5, 80}, 0s);
  hear(standard_id(0x7DF), {2, 1, 5}, 0s);
  hear(extended_id(0x18EBFF03), {1, 2, 3, 4, 5, 6, 7, 8}, 0s);  // SAE J1939-21, TP.DT
  hear(extended_id(0x18ECFF03), {1, 2, 3, 4, 5, 6, 7, 8}, 0s);  // TP.CM
  CanFrame remote = data_frame(TimePoint{}, BusName("can0"), standard_id(0x100), std::vector<std::uint8_t>{});
  remote.kind = FrameKind::remote;
  log_.on_frame(remote);
  EXPECT_TRUE(log_.series().empty());
}

TEST_F(PayloadLogTest, KeepsAGroupOfSeveralPacketsBySender) {
  // SAE J1939-21, broadcast announcement (BAM): 12 bytes of PGN FECA from 03, as two packets.
  std::vector<std::uint8_t> payload{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12};
  for (const std::uint8_t sender : {std::uint8_t{3}, std::uint8_t{0}}) {
    payload[8] = sender;
    const std::uint32_t id = 0x18ECFF00U + sender;
    hear(extended_id(id), isotp_words::announcement(isotp_words::kBam, payload.size(), 0xFECA), 0ms);
    hear(extended_id(id - 0x10000U), isotp_words::packet(payload, 1), 50ms);
    EXPECT_EQ(log_.series().size(), sender == 3 ? 0U : 1U) << "not before the last packet";
    hear(extended_id(id - 0x10000U), isotp_words::packet(payload, 2), 100ms);
  }
  ASSERT_EQ(log_.series().size(), 2U);
  const PayloadSeries& engine = log_.series().begin()->second;
  EXPECT_EQ(text_of(engine.source()), "group FECA from 00");
  EXPECT_TRUE(engine.source().is_broadcast());
  EXPECT_EQ(std::vector<std::uint8_t>(engine.payload(0).begin(), engine.payload(0).end()), payload);
  EXPECT_EQ(text_of(log_.series().rbegin()->first), "group FECA from 03");
}

TEST_F(PayloadLogTest, AGroupOfTheOtherDataPageIsCalledByAllOfItsDigits) {
  // SAE J1939-21: the data page is the bit above the two bytes of a group.
  const std::vector<std::uint8_t> payload{1, 2, 3, 4, 5, 6, 7, 8, 9};
  hear(extended_id(0x18ECFF03), isotp_words::announcement(isotp_words::kBam, payload.size(), 0x1FECA), 0ms);
  hear(extended_id(0x18EBFF03), isotp_words::packet(payload, 1), 50ms);
  hear(extended_id(0x18EBFF03), isotp_words::packet(payload, 2), 100ms);
  ASSERT_EQ(log_.series().size(), 1U);
  EXPECT_EQ(text_of(log_.series().begin()->first), "group 1FECA from 03");
}

TEST_F(PayloadLogTest, WhatIsTooLongFindsNoPlaceBecauseNoDecoderCouldBeWritten) {
  std::vector<std::uint8_t> response(3 + PayloadLog::kLongest, 0);
  response[0] = 0x62;
  answer({0x22, 0, 0}, response, 0s);
  EXPECT_EQ(log_.series().begin()->second.payload(0).size(), PayloadLog::kLongest);
  response.push_back(0);
  answer({0x22, 0, 1}, response, 0s);
  EXPECT_EQ(log_.series().size(), 1U);
  EXPECT_EQ(log_.turned_away(), 1U);
}

TEST_F(PayloadLogTest, KeepsWhatStandsBehindADataIdentifier) {
  answer({0x22, 0x1A, 0x05}, {0x62, 0x1A, 0x05, 0x4B}, 0s);
  answer({0x21, 0x07}, {0x61, 0x07, 1, 2, 3}, 0s);
  answer({0x22, 0x1A, 0x05, 0x1A, 0x06}, {0x62, 0x1A, 0x05, 0x4B, 0x1A, 0x06, 0},
         0s);  // two at once: where one ends is not known
  answer({0x01, 0x05}, {0x41, 0x05, 80}, 0s);
  ASSERT_EQ(log_.series().size(), 2U);
  EXPECT_EQ(text_of(log_.series().begin()->first), "21 07 of 7E1");
  const PayloadSeries& did = log_.series().rbegin()->second;
  EXPECT_EQ(text_of(did.source()), "22 1A05 of 7E1");
  EXPECT_EQ(did.payload(0)[0], 0x4B);
}

TEST_F(PayloadLogTest, OnlyAnAnswerToOneIdentifierIsASource) {
  answer({0x22, 0x1A, 0x05, 0x1A, 0x06}, {0x62, 0x1A, 0x05, 0x4B, 0x1A, 0x06, 0x01},
         0s);                                          // two: nobody knows which is where
  answer({0x22, 0x1A, 0x05}, {0x62, 0x1A, 0x05}, 1s);  // nothing in it
  answer({0x01, 0x05}, {0x41, 0x05, 0x7B}, 2s);        // of the standard
  hear(standard_id(0x3B2), {}, 3s);
  EXPECT_TRUE(log_.series().empty());
  answer({0x21, 0x05}, {0x61, 0x05, 0x4B}, 4s);
  ASSERT_EQ(log_.series().size(), 1U);
  EXPECT_EQ(log_.series().begin()->first.identifier, 5U);
  EXPECT_EQ(log_.series().begin()->first.length, 1U);
}

TEST_F(PayloadLogTest, ARefusalIsNoPayload) {
  Exchange exchange;
  exchange.request = {BusName("can0"), standard_id(0x7E1), std::nullopt};
  exchange.unit = Endpoint{BusName("can0"), standard_id(0x7E9), std::nullopt};
  exchange.asked = {0x22, 0x1A, 0x05};
  exchange.response = {0x62, 0x1A, 0x05, 0x4B};
  exchange.result = ExchangeResult::refused;
  log_.on_exchange(exchange);
  EXPECT_TRUE(log_.series().empty());
}

TEST_F(PayloadLogTest, ALongCaptureIsKeptWithWiderSpacesAndNotWithMoreMemory) {
  for (int i = 0; i < 20'000; ++i) hear(standard_id(0x100), {static_cast<std::uint8_t>(i)}, i * 1s);
  const PayloadSeries& series = log_.series().begin()->second;
  EXPECT_LE(series.size(), 1024U);
  EXPECT_GE(series.size(), 500U);
  EXPECT_GE(series.at(series.size() - 1), TimePoint{19'900s}) << "the end is kept as well";
  Duration least = series.at(1) - series.at(0), most = least;
  for (std::size_t i = 1; i < series.size(); ++i) {
    least = std::min(least, series.at(i) - series.at(i - 1));
    most = std::max(most, series.at(i) - series.at(i - 1));
  }
  EXPECT_EQ(least, most) << "and all of it alike";
}

TEST_F(PayloadLogTest, TurnsAwayWhatIsTooMuchAndCountsIt) {
  for (std::uint32_t i = 0; i < PayloadLog::kMostSources + 7; ++i) hear(extended_id(0x10000 + i), {1}, 0s);
  EXPECT_EQ(log_.series().size(), PayloadLog::kMostSources);
  EXPECT_EQ(log_.turned_away(), 7U);
}

}  // namespace
}  // namespace sumplog
