#include "core/j1939/transport.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/isotp/frames.h"
#include "core/j1939/packets.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

class J1939TransportTest : public ::testing::Test {
 protected:
  TransportStep feed(std::uint32_t id, const std::vector<std::uint8_t>& data) {
    return transport_.on_frame(frame(now_, extended_id(id), data));
  }
  TransportStep feed(std::uint32_t id, std::string_view hex) { return feed(id, bytes(hex)); }
  TransportStep wait(Duration time) {
    now_ += time;
    return transport_.on_deadline(now_);
  }
  TimePoint now_ = kStart;
  J1939Transport transport_;
};

void expect_nothing(const TransportStep& step) {
  EXPECT_FALSE(step.message);
  EXPECT_FALSE(step.loss) << step.loss->why;
}
void expect_loss(const TransportStep& step, std::string_view why, std::uint64_t frames) {
  EXPECT_FALSE(step.message);
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, why);
  EXPECT_EQ(step.loss->frames, frames);
}

// ---- broadcast

TEST_F(J1939TransportTest, ABroadcastOfFaultCodesIsOneMessage) {
  // Layout: SAE J1939-21, canboat's ts-pgns; frames seen as PGN 60416 and 60160 by tshark 4.0. The payload is
  // a DM1.
  const TimePoint first = now_;
  expect_nothing(feed(0x18ECFF03, "20 0E 00 02 FF CA FE 00"));
  expect_nothing(wait(100ms));
  expect_nothing(feed(0x18EBFF03, "01 04 FF B1 00 00 05 7E"));
  expect_nothing(wait(100ms));
  const auto step = feed(0x18EBFF03, "02 00 0A 02 FF FF E3 81");
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, bytes("04 FF B1 00 00 05 7E 00 0A 02 FF FF E3 81"));
  EXPECT_EQ(step.message->group, 65226U);
  EXPECT_EQ(step.message->from, (Endpoint{kBus, extended_id(0x18FECA03), std::nullopt}));
  EXPECT_EQ(step.message->first_at, first);
  EXPECT_EQ(step.message->at, now_);
  EXPECT_FALSE(step.loss);
  EXPECT_FALSE(transport_.deadline());
}

TEST_F(J1939TransportTest, TheSenderIsTheSameWhateverThePriorityOfTheTransport) {
  // SAE J1939-21: transport frames travel at priority 7, the group alone at its own
  (void)feed(0x1CECFF03, announcement(kBam, 9, 65226));
  (void)feed(0x1CEBFF03, packet(numbered(9), 1));
  const auto step = feed(0x1CEBFF03, packet(numbered(9), 2));
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->from.id, extended_id(0x18FECA03));
}

TEST_F(J1939TransportTest, EverySizeFrom9To1785Arrives) {
  // SAE J1939-21: 9…1785 bytes, 255 packets of 7
  for (std::size_t size = 9; size <= 1785; ++size) {
    const auto payload = numbered(size);
    expect_nothing(feed(0x18ECFF03, announcement(kBam, size, 0xFECA)));
    TransportStep step;
    for (std::size_t number = 1; number <= (size + 6) / 7; ++number) {
      expect_nothing(step);
      now_ += 50ms;
      step = feed(0x18EBFF03, packet(payload, number));
    }
    ASSERT_TRUE(step.message) << size;
    EXPECT_EQ(step.message->payload, payload);
  }
}

TEST_F(J1939TransportTest, SeveralSourcesInterleaveWithoutMixing) {
  for (std::uint32_t source = 0; source < 20; ++source) {
    auto payload = numbered(30);
    payload[0] = static_cast<std::uint8_t>(source);
    expect_nothing(feed(0x18ECFF00 | source, announcement(kBam, 30, 0xFECA)));
  }
  for (std::size_t number = 1; number <= 5; ++number) {
    for (std::uint32_t source = 0; source < 20; ++source) {
      auto payload = numbered(30);
      payload[0] = static_cast<std::uint8_t>(source);
      const auto step = feed(0x18EBFF00 | source, packet(payload, number));
      EXPECT_FALSE(step.loss);
      ASSERT_EQ(step.message.has_value(), number == 5);
      if (step.message) {
        EXPECT_EQ(step.message->payload, payload);
      }
    }
  }
}

TEST_F(J1939TransportTest, TheSameSourceOnTwoBusesIsTwoUnits) {
  const auto feed_on = [&](BusName bus, std::uint32_t id, const std::vector<std::uint8_t>& data) {
    CanFrame one = frame(now_, extended_id(id), data);
    one.bus = bus;
    return transport_.on_frame(one);
  };
  const BusName other{"can1"};
  expect_nothing(feed_on(kBus, 0x18ECFF03, announcement(kBam, 9, 0xFECA)));
  expect_nothing(feed_on(other, 0x18ECFF03, announcement(kBam, 9, 0xFECA)));
  expect_nothing(feed_on(kBus, 0x18EBFF03, packet(numbered(9), 1)));
  expect_nothing(feed_on(other, 0x18EBFF03, packet(numbered(9), 1)));
  EXPECT_TRUE(feed_on(other, 0x18EBFF03, packet(numbered(9), 2)).message);
  EXPECT_TRUE(feed_on(kBus, 0x18EBFF03, packet(numbered(9), 2)).message);
}

TEST_F(J1939TransportTest, ABroadcastAndASessionOfOneSourceAreTwoTransfers) {
  expect_nothing(feed(0x18ECFF03, announcement(kBam, 9, 0xFECA)));
  expect_nothing(feed(0x18ECF903, announcement(kRts, 9, 0xFEDA)));
  expect_nothing(feed(0x18EBFF03, packet(numbered(9), 1)));
  expect_nothing(feed(0x18EBF903, packet(numbered(9), 1)));
  EXPECT_EQ(feed(0x18EBF903, packet(numbered(9), 2)).message->group, 0xFEDAU);
  EXPECT_EQ(feed(0x18EBFF03, packet(numbered(9), 2)).message->group, 0xFECAU);
}

// ---- sessions between two others

TEST_F(J1939TransportTest, ASessionIsHeardWithItsAcknowledgements) {
  // SAE J1939-21: RTS, CTS, data, CTS, data, end-of-message acknowledge
  const auto payload = numbered(30);
  expect_nothing(feed(0x18ECF903, announcement(kRts, 30, 0xFEDA)));
  expect_nothing(feed(0x18EC03F9, "11 03 01 FF FF DA FE 00"));
  for (std::size_t number = 1; number <= 3; ++number)
    expect_nothing(feed(0x18EBF903, packet(payload, number)));
  expect_nothing(feed(0x18EC03F9, "11 02 04 FF FF DA FE 00"));
  expect_nothing(feed(0x18EBF903, packet(payload, 4)));
  const auto step = feed(0x18EBF903, packet(payload, 5));
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, payload);
  EXPECT_EQ(step.message->group, 0xFEDAU);
  EXPECT_EQ(step.message->from.id, extended_id(0x18FEDA03));
  expect_nothing(feed(0x18EC03F9, "13 1E 00 05 FF DA FE 00"));
  EXPECT_FALSE(transport_.deadline());
}

TEST_F(J1939TransportTest, AGroupWithADestinationKeepsItInTheSender) {
  (void)feed(0x18ECF903, announcement(kRts, 9, 0xEF00));
  (void)feed(0x18EBF903, packet(numbered(9), 1));
  EXPECT_EQ(feed(0x18EBF903, packet(numbered(9), 2)).message->from.id, extended_id(0x18EFF903));
}

TEST_F(J1939TransportTest, PacketsThatAreAskedForAgainReplaceTheFirstOnes) {
  // SAE J1939-21: a CTS may name a packet that was sent before
  const auto payload = numbered(30);
  auto wrong = payload;
  wrong[8] ^= 0xFF;
  (void)feed(0x18ECF903, announcement(kRts, 30, 0xFEDA));
  (void)feed(0x18EC03F9, "11 FF 01 FF FF DA FE 00");
  (void)feed(0x18EBF903, packet(wrong, 1));
  (void)feed(0x18EBF903, packet(wrong, 2));
  (void)feed(0x18EBF903, packet(wrong, 3));
  expect_nothing(feed(0x18EC03F9, "11 FF 02 FF FF DA FE 00"));
  TransportStep step;
  for (std::size_t number = 2; number <= 5; ++number) step = feed(0x18EBF903, packet(payload, number));
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, payload);
}

TEST_F(J1939TransportTest, PacketsSentAgainAfterTheLastAreNoSecondMessageAndNoLoss) {
  const auto payload = numbered(14);
  (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
  (void)feed(0x18EBF903, packet(payload, 1));
  EXPECT_TRUE(feed(0x18EBF903, packet(payload, 2)).message);
  expect_nothing(feed(0x18EC03F9, "11 02 01 FF FF DA FE 00"));
  expect_nothing(feed(0x18EBF903, packet(payload, 1)));
  expect_nothing(feed(0x18EBF903, packet(payload, 2)));
  expect_nothing(feed(0x18EC03F9, "13 0E 00 02 FF DA FE 00"));
  expect_loss(feed(0x18EBF903, packet(payload, 2)), kLossNoTransfer, 1);
}

TEST_F(J1939TransportTest, AHoldKeepsTheSessionWaiting) {
  // SAE J1939-21: CTS with 0 packets
  (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
  for (int i = 0; i < 5; ++i) {
    expect_nothing(wait(500ms));
    expect_nothing(feed(0x18EC03F9, "11 00 FF FF FF DA FE 00"));
  }
  expect_nothing(feed(0x18EBF903, packet(numbered(14), 1)));
  EXPECT_TRUE(feed(0x18EBF903, packet(numbered(14), 2)).message);
}

TEST_F(J1939TransportTest, AClearToSendForNoPacketAtAllChangesNothing) {
  // SAE J1939-21: packets are counted from 1
  (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
  (void)feed(0x18EBF903, packet(numbered(14), 1));
  expect_nothing(feed(0x18EC03F9, "11 01 00 FF FF DA FE 00"));
  const auto step = feed(0x18EBF903, packet(numbered(14), 2));
  ASSERT_TRUE(step.message);
  EXPECT_EQ(step.message->payload, numbered(14));
}

TEST_F(J1939TransportTest, ManagementOfAnotherGroupDoesNotTouchTheSession) {
  (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
  (void)feed(0x18EBF903, packet(numbered(14), 1));
  expect_nothing(feed(0x18EC03F9, "11 01 01 FF FF CA FE 00"));
  expect_nothing(feed(0x18EC03F9, "13 0E 00 02 FF CA FE 00"));
  expect_nothing(feed(0x18EC03F9, "FF 01 FF FF FF CA FE 00"));
  EXPECT_TRUE(feed(0x18EBF903, packet(numbered(14), 2)).message);
}

TEST_F(J1939TransportTest, EitherSideMayAbort) {
  for (const std::uint32_t id : {0x18ECF903U, 0x18EC03F9U}) {
    (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
    (void)feed(0x18EBF903, packet(numbered(14), 1));
    expect_loss(feed(id, "FF 01 FF FF FF DA FE 00"), kLossAborted, 2);
    EXPECT_FALSE(transport_.deadline());
  }
}

TEST_F(J1939TransportTest, AnAcknowledgeBeforeAllPacketsWereHeardTellsThatSomeAreMissing) {
  (void)feed(0x18ECF903, announcement(kRts, 14, 0xFEDA));
  (void)feed(0x18EBF903, packet(numbered(14), 1));
  expect_loss(feed(0x18EC03F9, "13 0E 00 02 FF DA FE 00"), kLossPacketsMissing, 2);
}

TEST_F(J1939TransportTest, AClearToSendForALaterPacketTellsThatSomeAreMissing) {
  (void)feed(0x18ECF903, announcement(kRts, 30, 0xFEDA));
  (void)feed(0x18EBF903, packet(numbered(30), 1));
  expect_loss(feed(0x18EC03F9, "11 02 04 FF FF DA FE 00"), kLossPacketsMissing, 2);
}

// ---- time

TEST_F(J1939TransportTest, ABroadcastTimesOutAfter750Milliseconds) {
  // SAE J1939-21, T1; Linux net/can/j1939/transport.c
  (void)feed(0x18ECFF03, announcement(kBam, 20, 0xFECA));
  expect_nothing(wait(749'999us));
  (void)feed(0x18EBFF03, packet(numbered(20), 1));
  const TimePoint last = now_;
  EXPECT_EQ(transport_.deadline(), last + 750ms);
  const auto step = wait(10s);
  expect_loss(step, kLossJ1939TimedOut, 2);
  EXPECT_EQ(step.loss->at, last + 750ms);
  EXPECT_EQ(step.loss->from.id, extended_id(0x18FECA03));
  expect_loss(feed(0x18EBFF03, packet(numbered(20), 2)), kLossNoTransfer, 1);
}

TEST_F(J1939TransportTest, ASessionTimesOutAfter1250Milliseconds) {
  // SAE J1939-21, T2 and T3; Linux net/can/j1939/transport.c
  (void)feed(0x18ECF903, announcement(kRts, 20, 0xFEDA));
  expect_nothing(wait(1'249'999us));
  expect_loss(wait(1us), kLossJ1939TimedOut, 1);
}

TEST_F(J1939TransportTest, ALatePacketFindsTheTransferGoneEvenWhenNobodyFiredTheDeadline) {
  (void)feed(0x18ECFF03, announcement(kBam, 9, 0xFECA));
  (void)feed(0x18EBFF03, packet(numbered(9), 1));
  now_ += 750ms;
  expect_loss(feed(0x18EBFF03, packet(numbered(9), 2)), kLossNoTransfer, 3);
}

TEST_F(J1939TransportTest, DeadlinesFireEarliestFirst) {
  (void)feed(0x18ECF903, announcement(kRts, 20, 0xFEDA));
  (void)feed(0x18ECFF05, announcement(kBam, 20, 0xFECA));
  (void)feed(0x18ECFF04, announcement(kBam, 20, 0xFECA));
  EXPECT_EQ(wait(10s).loss->from.id, extended_id(0x18FECA04));
  EXPECT_EQ(transport_.on_deadline(now_).loss->from.id, extended_id(0x18FECA05));
  EXPECT_EQ(transport_.on_deadline(now_).loss->from.id, extended_id(0x18FEDA03));
  expect_nothing(transport_.on_deadline(now_));
}

TEST_F(J1939TransportTest, WhatRunsAtTheEndIsLost) {
  (void)feed(0x18ECFF03, announcement(kBam, 20, 0xFECA));
  (void)feed(0x18EBFF03, packet(numbered(20), 1));
  (void)feed(0x18ECF904, announcement(kRts, 9, 0xFEDA));
  (void)feed(0x18EBF904, packet(numbered(9), 1));
  EXPECT_TRUE(
      feed(0x18EBF904, packet(numbered(9), 2)).message);  // its acknowledge is still to come: nothing is lost
  expect_loss(transport_.on_end(now_), kLossJ1939Unfinished, 2);
  expect_nothing(transport_.on_end(now_));
}

// ---- errors

TEST_F(J1939TransportTest, AWrongPacketNumberAbandonsTheTransfer) {
  for (const std::size_t number : {0U, 1U, 3U, 255U}) {
    (void)feed(0x18ECFF03, announcement(kBam, 30, 0xFECA));
    (void)feed(0x18EBFF03, packet(numbered(30), 1));
    auto data = packet(numbered(30), 2);
    data[0] = static_cast<std::uint8_t>(number);
    expect_loss(feed(0x18EBFF03, data), kLossPacketOrder, 3);
    expect_loss(feed(0x18EBFF03, packet(numbered(30), 2)), kLossNoTransfer, 1);
  }
}

TEST_F(J1939TransportTest, APacketWithoutAnAnnouncementIsCounted) {
  const auto step = feed(0x18EBFF03, packet(numbered(9), 1));
  expect_loss(step, kLossNoTransfer, 1);
  EXPECT_EQ(step.loss->from.id, extended_id(0x18EBFF03));
}

TEST_F(J1939TransportTest, APacketThatIsNotEightBytesAbandonsTheTransfer) {
  // SAE J1939-82, A.3.4: a TP.DT of less than 8 bytes ends the session; Linux net/can/j1939/transport.c
  (void)feed(0x18ECFF03, announcement(kBam, 9, 0xFECA));
  expect_loss(feed(0x18EBFF03, "01 01 02 03 04 05 06"), kLossPacketLength, 2);
}

TEST_F(J1939TransportTest, AnnouncementsOfImpossibleTransfersAreCounted) {
  // SAE J1939-21: 9…1785 bytes, packets = size / 7 rounded up; BAM to all, RTS to one
  expect_loss(feed(0x18ECFF03, announcement(kBam, 8, 0xFECA)), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECFF03, announcement(kBam, 0, 0xFECA)), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECFF03, announcement(kBam, 1786, 0xFECA)), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECFF03, "20 0E 00 03 FF CA FE 00"), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECFF03, "20 0E 00 01 FF CA FE 00"), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECF903, announcement(kBam, 14, 0xFECA)), kLossBadAnnouncement, 1);
  expect_loss(feed(0x18ECFF03, announcement(kRts, 14, 0xFECA)), kLossBadAnnouncement, 1);
  EXPECT_FALSE(transport_.deadline());
}

TEST_F(J1939TransportTest, ANewAnnouncementEndsARunningTransfer) {
  (void)feed(0x18ECFF03, announcement(kBam, 20, 0xFECA));
  (void)feed(0x18EBFF03, packet(numbered(20), 1));
  expect_loss(feed(0x18ECFF03, announcement(kBam, 9, 0xFECB)), kLossReannounced, 2);
  (void)feed(0x18EBFF03, packet(numbered(9), 1));
  EXPECT_EQ(feed(0x18EBFF03, packet(numbered(9), 2)).message->group, 0xFECBU);
}

TEST_F(J1939TransportTest, ManagementThatCannotBeReadIsCounted) {
  expect_loss(feed(0x18ECFF03, "20 0E 00 02 FF CA FE"), kLossBadManagement, 1);
  expect_loss(feed(0x18ECFF03, ""), kLossBadManagement, 1);
  expect_loss(feed(0x18ECFF03, "12 0E 00 02 FF CA FE 00"), kLossBadManagement, 1);
}

TEST_F(J1939TransportTest, ManagementOfNoSessionDoesNothing) {
  expect_nothing(feed(0x18EC03F9, "11 03 01 FF FF DA FE 00"));
  expect_nothing(feed(0x18EC03F9, "13 1E 00 05 FF DA FE 00"));
  expect_nothing(feed(0x18EC03F9, "FF 01 FF FF FF DA FE 00"));
}

TEST_F(J1939TransportTest, OtherFramesDoNothing) {
  expect_nothing(feed(0x18FEF803, "FF FF FF 14 20 2E FF FF"));
  expect_nothing(feed(0x18DAF110, "10 14 49 02 01 31 32 33"));
  expect_nothing(feed(0x19ECFF03, "20 0E 00 02 FF CA FE 00"));  // data page 1 is another group
  expect_nothing(transport_.on_frame(frame(now_, standard_id(0x7E8), bytes("02 7E 00"))));
  CanFrame remote = frame(now_, extended_id(0x18ECFF03), announcement(kBam, 9, 0xFECA));
  remote.kind = FrameKind::remote;
  expect_nothing(transport_.on_frame(remote));
  EXPECT_FALSE(transport_.deadline());
}

TEST_F(J1939TransportTest, TheNumberOfTransfersAtOnceIsBounded) {
  std::size_t refused = 0;
  for (std::uint32_t destination = 0; destination < 2; ++destination) {
    for (std::uint32_t source = 0; source < 254; ++source) {
      const auto step = feed(0x18EC0000 | destination << 8 | source, announcement(kRts, 9, 0xFEDA));
      if (!step.loss) continue;
      expect_loss(step, kLossTooManyTransfers, 1);
      ++refused;
    }
  }
  EXPECT_EQ(refused, 2 * 254 - J1939Transport::kMaxTransfers);
}

TEST_F(J1939TransportTest, SessionsThatAreOverMakeRoomForNewOnes) {
  for (std::uint32_t destination = 0; destination < 3; ++destination) {
    for (std::uint32_t source = 0; source < 254; ++source) {
      const std::uint32_t low = destination << 8 | source;
      expect_nothing(feed(0x18EC0000 | low, announcement(kRts, 9, 0xFEDA)));
      expect_nothing(feed(0x18EB0000 | low, packet(numbered(9), 1)));
      EXPECT_TRUE(feed(0x18EB0000 | low, packet(numbered(9), 2)).message);
    }
  }
}

// ---- single frames

TEST(J1939SingleFrame, IsAMessageOfItsGroup) {
  const auto message =
      single_frame_message(frame(kStart, extended_id(0x18FEF803), bytes("FF FF FF 14 20 2E FF FF")));
  ASSERT_TRUE(message);
  EXPECT_EQ(message->group, 65272U);
  EXPECT_EQ(message->payload, bytes("FF FF FF 14 20 2E FF FF"));
  EXPECT_EQ(message->from.id, extended_id(0x18FEF803));
}

TEST(J1939SingleFrame, IsNoPartOfATransferAndNo11BitFrame) {
  EXPECT_FALSE(single_frame_message(frame(kStart, extended_id(0x18ECFF03), announcement(kBam, 9, 0xFECA))));
  EXPECT_FALSE(single_frame_message(frame(kStart, extended_id(0x18EBFF03), packet(numbered(9), 1))));
  EXPECT_FALSE(single_frame_message(frame(kStart, standard_id(0x7E8), bytes("02 7E 00"))));
  CanFrame remote = frame(kStart, extended_id(0x18FEF803), {});
  remote.kind = FrameKind::remote;
  EXPECT_FALSE(single_frame_message(remote));
}

}  // namespace
}  // namespace sumplog
