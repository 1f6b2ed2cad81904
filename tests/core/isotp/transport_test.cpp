#include "core/isotp/transport.h"

#include <gtest/gtest.h>

#include <chrono>
#include <map>

#include "core/isotp/frames.h"
#include "core/isotp/loss.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

class TransportTest : public ::testing::Test {
 protected:
  TransportStep feed(std::uint32_t id, std::string_view hex, BusName bus = kBus) {
    CanFrame one = frame(now_, id > 0x7FF ? extended_id(id) : standard_id(id), bytes(hex));
    one.bus = bus;
    return transport_.on_frame(one);
  }
  TransportStep wait(Duration time) {
    now_ += time;
    return transport_.on_deadline(now_);
  }
  TimePoint now_ = kStart;
  Transport transport_ = Transport(AddressBook({
      {standard_id(0x6A0), standard_id(0x6A8), AddressingMode::normal, std::nullopt, std::nullopt},
      {standard_id(0x6F1), standard_id(0x612), AddressingMode::extended, 0x12, 0xF1},
      {standard_id(0x6F1), standard_id(0x618), AddressingMode::extended, 0x18, 0xF1},
  }));
};

void expect_nothing(const TransportStep& step) {
  EXPECT_FALSE(step.message);
  EXPECT_FALSE(step.reply);
  EXPECT_FALSE(step.loss) << step.loss->why;
}
void expect_loss(const TransportStep& step, std::string_view why, std::uint64_t frames) {
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, why);
  EXPECT_EQ(step.loss->frames, frames);
}
void expect_reply(const TransportStep& step, CanId id, std::string_view hex) {
  ASSERT_TRUE(step.reply);
  EXPECT_EQ(step.reply->id, id);
  EXPECT_EQ(data_of(*step.reply), bytes(hex));
}

// ---- normal

TEST_F(TransportTest, RequestsAndResponsesAreMessages) {
  // ISO 15765-4, 11-bit identifiers
  const auto asked = feed(0x7DF, "02 01 05 00 00 00 00 00");
  ASSERT_TRUE(asked.message);
  EXPECT_EQ(asked.message->from.id, standard_id(0x7DF));
  const auto answered = feed(0x7E9, "03 41 05 7B 00 00 00 00");
  ASSERT_TRUE(answered.message);
  EXPECT_EQ(answered.message->payload, bytes("41 05 7B"));
  EXPECT_EQ(answered.message->from.id, standard_id(0x7E9));
}

TEST_F(TransportTest, FlowControlForAResponseGoesToTheRequestIdentifierOfThatUnit) {
  // ISO 15765-4: 7E0 for 7E8; 18DA10F1 for 18DAF110
  expect_reply(feed(0x7E8, "10 14 49 02 01 31 32 33"), standard_id(0x7E0), "30 00 00 CC CC CC CC CC");
  expect_reply(feed(0x7E9, "10 14 49 02 01 31 32 33"), standard_id(0x7E1), "30 00 00 CC CC CC CC CC");
  expect_reply(feed(0x18DAF110, "10 14 49 02 01 31 32 33"), extended_id(0x18DA10F1),
               "30 00 00 CC CC CC CC CC");
  expect_reply(feed(0x18CEF110, "55 10 14 49 02 01 31 32"), extended_id(0x18CE10F1),
               "55 30 00 00 CC CC CC CC");
  expect_reply(feed(0x6A8, "10 14 49 02 01 31 32 33"), standard_id(0x6A0), "30 00 00 CC CC CC CC CC");
  expect_reply(feed(0x618, "F1 10 14 49 02 01 31 32"), standard_id(0x6F1), "18 30 00 00 CC CC CC CC");
}

TEST_F(TransportTest, RequestsOfAnotherTesterAreReadAndNeverAnswered) {
  expect_nothing(feed(0x7E1, "10 08 2E F1 90 01 02 03"));
  const auto step = feed(0x7E1, "21 04 05 00 00 00 00 00");
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, bytes("2E F1 90 01 02 03 04 05"));
  EXPECT_FALSE(step.reply);
}

TEST_F(TransportTest, AUnitWithAnUnknownAddressByteIsReadAndNotAnswered) {
  expect_nothing(feed(0x618, "F2 10 07 01 02 03 04 05"));
  EXPECT_TRUE(feed(0x618, "F2 21 06 07").message);
}

TEST_F(TransportTest, EightUnitsInterleaveWithoutMixing) {
  // ISO 15765-4: a tester copes with 8 answering units (from memory). Wireshark loses such traffic, scapy
  // reads it.
  std::map<std::uint32_t, std::vector<std::uint8_t>> sent;
  for (std::uint32_t unit = 0; unit < 8; ++unit) {
    auto payload = numbered(41);
    payload[0] = static_cast<std::uint8_t>(unit);
    sent[0x7E8 + unit] = payload;
  }
  std::map<std::uint32_t, std::vector<std::uint8_t>> heard;
  const auto send = [&](std::uint32_t id, std::vector<std::uint8_t> pci, std::size_t from,
                        std::size_t count) {
    const auto& payload = sent[id];
    for (std::size_t i = from; i < std::min(from + count, payload.size()); ++i) pci.push_back(payload[i]);
    now_ += 300us;
    const auto step = transport_.on_frame(frame(now_, standard_id(id), pci));
    EXPECT_FALSE(step.loss);
    if (step.message) heard[step.message->from.id.value] = step.message->payload;
  };
  for (std::uint32_t unit = 0; unit < 8; ++unit) send(0x7E8 + unit, {0x10, 41}, 0, 6);
  for (std::uint8_t number = 1; number <= 5; ++number) {
    for (std::uint32_t unit = 0; unit < 8; ++unit) {
      const std::uint32_t id = 0x7E8 + (number % 2 == 0 ? unit : 7 - unit);  // the order turns each round
      send(id, {static_cast<std::uint8_t>(0x20 | number)}, 6 + 7 * (number - 1U), 7);
    }
  }
  EXPECT_EQ(heard, sent);
}

TEST_F(TransportTest, TheSameIdentifierOnTwoBusesIsTwoUnits) {
  const BusName other{"can1"};
  (void)feed(0x7E9, "10 08 01 02 03 04 05 06");
  (void)feed(0x7E9, "10 08 11 12 13 14 15 16", other);
  EXPECT_EQ(feed(0x7E9, "21 17 18", other).message->payload, bytes("11 12 13 14 15 16 17 18"));
  EXPECT_EQ(feed(0x7E9, "21 07 08").message->payload, bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(TransportTest, OneIdentifierWithTwoAddressBytesIsTwoUnits) {
  (void)feed(0x6F1, "12 10 07 01 02 03 04 05");
  (void)feed(0x6F1, "18 10 07 11 12 13 14 15");
  const auto first = feed(0x6F1, "12 21 06 07");
  EXPECT_EQ(first.message->payload, bytes("01 02 03 04 05 06 07"));
  EXPECT_EQ(first.message->from.address, 0x12);
  EXPECT_EQ(feed(0x6F1, "18 21 16 17").message->payload, bytes("11 12 13 14 15 16 17"));
}

TEST_F(TransportTest, StandardAndExtendedIdentifiersOfTheSameNumberAreDifferent) {
  EXPECT_TRUE(feed(0x7E9, "02 7E 00").message);
  CanFrame one = frame(now_, extended_id(0x7E9), bytes("02 7E 00"));
  expect_nothing(transport_.on_frame(one));
}

TEST_F(TransportTest, AStepSaysWhoseTransferGoesOn) {
  const Endpoint unit{kBus, standard_id(0x7E9), std::nullopt};
  EXPECT_EQ(feed(0x7E9, "10 14 49 02 01 31 32 33").receiving, unit);
  EXPECT_FALSE(feed(0x7E8, "02 7E 00").receiving);
  EXPECT_EQ(feed(0x7E9, "21 34 35 36 37 38 39 41").receiving, unit);
  EXPECT_FALSE(feed(0x7E9, "22 42 43 44 45 46 47 48").receiving);
}

// ---- what is not transport

TEST_F(TransportTest, OtherIdentifiersDoNothing) {
  expect_nothing(feed(0x123, "21 01 02 03 04 05 06 07"));
  expect_nothing(feed(0x18FEF803, "FF FF FF 14 20 2E FF FF"));
  expect_nothing(feed(0x18ECFF03, "20 0E 00 02 FF CA FE 00"));
}

TEST_F(TransportTest, RemoteAndErrorFramesDoNothing) {
  CanFrame one = frame(now_, standard_id(0x7E9), bytes("21 01"));
  one.kind = FrameKind::remote;
  expect_nothing(transport_.on_frame(one));
  one.kind = FrameKind::error;
  expect_nothing(transport_.on_frame(one));
}

// ---- losses

TEST_F(TransportTest, NoIgnoredFrameIsSilent) {
  expect_loss(feed(0x7E9, "21 01 02 03 04 05 06 07"), kLossNoFirst, 1);
  expect_loss(feed(0x7E9, ""), kLossNoControl, 1);
  expect_loss(feed(0x7E9, "50 01"), kLossReservedType, 1);
  expect_loss(feed(0x612, ""), kLossNoControl, 1);
  expect_loss(feed(0x612, "F1"), kLossNoControl, 1);
  expect_loss(feed(0x7DF, "10 08 01 02 03 04 05 06"), kLossFirstFunctional, 1);
  expect_loss(feed(0x7DF, "21 07 08"), kLossNoFirst, 1);
  expect_loss(feed(0x18DB33F1, "10 08 01 02 03 04 05 06"), kLossFirstFunctional, 1);
  expect_loss(feed(0x18CD33F1, "55 10 07 01 02 03 04 05"), kLossFirstFunctional, 1);
}

TEST_F(TransportTest, ALossNamesItsUnit) {
  const auto step = feed(0x612, "F1 21 01 02");
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->from, (Endpoint{kBus, standard_id(0x612), 0xF1}));
  EXPECT_EQ(step.loss->at, now_);
}

TEST_F(TransportTest, DeadlinesFireEarliestFirstAndTiesInOrderOfTheEndpoint) {
  (void)feed(0x7EA, "10 08 01 02 03 04 05 06");
  (void)feed(0x7E9, "10 08 01 02 03 04 05 06");
  now_ -= 1ms;  // a bus whose frames come late into the file
  (void)feed(0x7EB, "10 08 01 02 03 04 05 06");
  const TimePoint first = now_ + 1s;
  EXPECT_EQ(transport_.deadline(), first);
  auto step = wait(10s);
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->from.id, standard_id(0x7EB));
  EXPECT_EQ(step.loss->at, first);
  EXPECT_EQ(transport_.deadline(), first + 1ms);
  EXPECT_EQ(transport_.on_deadline(now_).loss->from.id, standard_id(0x7E9));
  EXPECT_EQ(transport_.on_deadline(now_).loss->from.id, standard_id(0x7EA));
  EXPECT_FALSE(transport_.deadline());
  expect_nothing(transport_.on_deadline(now_));
}

TEST_F(TransportTest, ADeadlineThatIsNotReachedDoesNotFire) {
  (void)feed(0x7E9, "10 08 01 02 03 04 05 06");
  expect_nothing(wait(999ms));
  EXPECT_TRUE(feed(0x7E9, "21 07 08").message);
}

TEST_F(TransportTest, WhatRunsAtTheEndIsLostOneTransferACall) {
  (void)feed(0x7E9, "10 14 01 02 03 04 05 06");
  (void)feed(0x7E9, "21 01 02 03 04 05 06 07");
  (void)feed(0x7EA, "10 14 01 02 03 04 05 06");
  (void)feed(0x7E8, "02 7E 00");
  expect_loss(transport_.on_end(now_), kLossUnfinished, 2);
  expect_loss(transport_.on_end(now_), kLossUnfinished, 1);
  expect_nothing(transport_.on_end(now_));
  EXPECT_FALSE(transport_.deadline());
}

// ---- bounds

TEST_F(TransportTest, TheNumberOfTransfersAtOnceIsBounded) {
  std::size_t begun = 0;
  std::size_t refused = 0;
  for (const char* const bus : {"can0", "can1", "can2"}) {
    for (std::uint32_t unit = 0; unit < 0xF0; ++unit) {
      const auto step = feed(0x18DAF100 | unit, "10 08 01 02 03 04 05 06", BusName{bus});
      if (step.loss) {
        expect_loss(step, kLossTooMany, 1);
        EXPECT_FALSE(step.reply);
        ++refused;
      } else {
        ++begun;
      }
    }
  }
  EXPECT_EQ(begun, Transport::kMaxReceivers);
  EXPECT_EQ(refused, 3 * 0xF0 - Transport::kMaxReceivers);
  // Those that run go on.
  EXPECT_TRUE(feed(0x18DAF100, "21 07 08", BusName{"can0"}).message);
}

TEST_F(TransportTest, SingleFramesPassHoweverManyTransfersRun) {
  // Found on the hostile bus: made-up first frames of 512 units, and our own unit's answers were refused for a second.
  for (const char* const bus : {"can0", "can1", "can2"})
    for (std::uint32_t unit = 0; unit < 0xF0; ++unit)
      feed(0x18DAF100 | unit, "10 08 01 02 03 04 05 06", BusName{bus});
  const auto answer = feed(0x18DAF118, "04 62 1A 05 55", BusName{"can3"});
  EXPECT_TRUE(answer.message);
  EXPECT_FALSE(answer.loss);
  expect_loss(feed(0x18DAF118, "21 07 08", BusName{"can3"}), kLossNoFirst, 1);
}

TEST_F(TransportTest, IdleUnitsMakeRoomForNewOnes) {
  const auto feed_all = [&](std::string_view hex) {
    std::size_t taken = 0;
    for (const char* const bus : {"can0", "can1", "can2", "can3"}) {
      for (std::uint32_t unit = 0; unit < 0xF0; ++unit) {
        taken += feed(0x18DAF100 | unit, hex, BusName{bus}).loss ? 0U : 1U;
      }
    }
    return taken;
  };
  EXPECT_EQ(feed_all("02 7E 00"), 4 * 0xF0U);
  // Those that were heard are not all kept.
  EXPECT_EQ(feed_all("10 08 01 02 03 04 05 06"), Transport::kMaxReceivers);
}

}  // namespace
}  // namespace sumplog
