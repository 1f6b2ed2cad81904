#include "core/isotp/receiver.h"

#include <gtest/gtest.h>

#include <chrono>

#include "core/isotp/frames.h"
#include "core/isotp/listening.h"
#include "core/isotp/loss.h"
#include "core/isotp/pci.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

class ReceiverTest : public Listening {};

// ---- normal

TEST_F(ReceiverTest, ASingleFrameIsAMessage) {
  // ISO 15765-2, SF; SAE J1979 service 01, PID 05
  const auto step = feed("03 41 05 7B 00 00 00 00");
  expect_message(step, bytes("41 05 7B"));
  EXPECT_EQ(step.message->from, unit());
  EXPECT_EQ(step.message->at, now_);
  EXPECT_EQ(step.message->first_at, now_);
  EXPECT_FALSE(step.message->group);
  EXPECT_FALSE(step.loss);
  EXPECT_FALSE(step.reply);
}

TEST_F(ReceiverTest, SeveralSingleFramesAreSeveralMessages) {
  // python-can-isotp test_transport_layer_logic.py, multiple single frames
  for (int length = 1; length <= 7; ++length) {
    std::vector<std::uint8_t> data(8, 0xAA);
    data[0] = static_cast<std::uint8_t>(length);
    expect_message(feed(data), std::vector<std::uint8_t>(static_cast<std::size_t>(length), 0xAA));
  }
}

TEST_F(ReceiverTest, AFirstFrameAndConsecutiveFramesAreOneMessage) {
  // ISO 15765-2, FF and CF; SAE J1979 service 09: 20 bytes = 6 + 7 + 7
  const TimePoint first = now_;
  expect_nothing(feed("10 14 49 02 01 31 32 33"));
  (void)wait(20ms);
  expect_nothing(feed("21 34 35 36 37 38 39 41"));
  (void)wait(20ms);
  const auto step = feed("22 42 43 44 45 46 47 48");
  expect_message(step, bytes("49 02 01 31 32 33 34 35 36 37 38 39 41 42 43 44 45 46 47 48"));
  EXPECT_EQ(step.message->first_at, first);
  EXPECT_EQ(step.message->at, now_);
  EXPECT_FALSE(step.loss);
  EXPECT_FALSE(receiver_.receiving());
  EXPECT_FALSE(receiver_.deadline());
}

TEST_F(ReceiverTest, PaddingOfTheLastFrameIsNotPartOfTheMessage) {
  (void)feed("10 09 62 F1 90 01 02 03");
  expect_message(feed("21 04 05 06 CC CC CC CC"), bytes("62 F1 90 01 02 03 04 05 06"));
}

TEST_F(ReceiverTest, PaddingIsNeverChecked) {
  // ISO 15765-2: the receiver does not look at padding (from memory); any content passes
  expect_message(feed("02 3E 00 12 34 56 78 9A"), bytes("3E 00"));
  (void)feed("10 08 01 02 03 04 05 06");
  expect_message(feed("21 07 08 FF 00 A5 5A 11"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, TheLastFrameMayBeAsShortAsItsData) {
  // Linux net/can/isotp.c, isotp_rcv_cf: only the last CF may be shorter
  (void)feed("10 09 62 F1 90 01 02 03");
  expect_message(feed("21 04 05 06"), bytes("62 F1 90 01 02 03 04 05 06"));
}

TEST_F(ReceiverTest, ASingleFrameMayBeAsShortAsItsData) {
  expect_message(feed("01 43"), bytes("43"));
}

TEST_F(ReceiverTest, TheSequenceNumberWrapsFromFToZero) {
  // ISO 15765-2, SN; Linux net/can/isotp.c: rx.sn %= 16
  const auto payload = numbered(6 + 7 * 40);
  std::vector<std::uint8_t> first{0x11, 0x1E};
  first.insert(first.end(), payload.begin(), payload.begin() + 6);
  expect_nothing(feed(first));
  TransportStep step;
  for (std::size_t i = 0; i < 40; ++i) {
    expect_nothing(step);
    std::vector<std::uint8_t> next{static_cast<std::uint8_t>(0x20 | ((i + 1) & 0xF))};
    next.insert(next.end(), payload.begin() + static_cast<std::ptrdiff_t>(6 + 7 * i),
                payload.begin() + static_cast<std::ptrdiff_t>(13 + 7 * i));
    step = feed(next);
  }
  expect_message(step, payload);
}

TEST_F(ReceiverTest, AMessageAfterAMessageStartsAtSequenceNumberOneAgain) {
  for (int i = 0; i < 3; ++i) {
    (void)feed("10 08 01 02 03 04 05 06");
    expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
  }
}

TEST_F(ReceiverTest, FourThousandAndNinetyFiveBytesComeWhole) {
  // ISO 15765-2, largest FF_DL of 12 bits
  const auto payload = numbered(4095);
  std::vector<std::uint8_t> data{0x1F, 0xFF};
  data.insert(data.end(), payload.begin(), payload.begin() + 6);
  auto step = feed(data);
  std::uint8_t number = 1;
  for (std::size_t sent = 6; sent < payload.size(); sent += 7, ++number) {
    EXPECT_FALSE(step.message);
    data.assign({static_cast<std::uint8_t>(0x20 | (number & 0xF))});
    for (std::size_t i = sent; i < std::min(sent + 7, payload.size()); ++i) data.push_back(payload[i]);
    step = feed(data);
  }
  expect_message(step, payload);
}

TEST_F(ReceiverTest, AnEscapeLengthAbove4095IsRead) {
  // ISO 15765-2:2016, FF_DL > 4095: 10 00 and 32 bits, big-endian; 2 data bytes on an 8-byte frame
  const auto payload = numbered(4096);
  std::vector<std::uint8_t> data = bytes("10 00 00 00 10 00");
  data.insert(data.end(), payload.begin(), payload.begin() + 2);
  auto step = feed(data);
  std::uint8_t number = 1;
  for (std::size_t sent = 2; sent < payload.size(); sent += 7, ++number) {
    EXPECT_FALSE(step.message);
    data.assign({static_cast<std::uint8_t>(0x20 | (number & 0xF))});
    for (std::size_t i = sent; i < std::min(sent + 7, payload.size()); ++i) data.push_back(payload[i]);
    step = feed(data);
  }
  expect_message(step, payload);
}

// ---- flow control

TEST_F(ReceiverTest, AListenerProposesNoFlowControl) {
  EXPECT_FALSE(feed("10 14 49 02 01 31 32 33").reply);
}

TEST_F(ReceiverTest, AnAnsweringReceiverProposesContinueAfterTheFirstFrame) {
  // ISO 15765-2, FC 30 BS STmin; padding CC
  answer();
  expect_reply(feed("10 14 49 02 01 31 32 33"), 0x7E1, "30 00 00 CC CC CC CC CC");
  EXPECT_FALSE(feed("21 34 35 36 37 38 39 41").reply);
  const auto step = feed("22 42 43 44 45 46 47 48");
  EXPECT_TRUE(step.message);
  EXPECT_FALSE(step.reply);
}

TEST_F(ReceiverTest, TheProposalCarriesTimeAndBusOfItsCause) {
  answer();
  const auto step = feed("10 14 49 02 01 31 32 33");
  ASSERT_TRUE(step.reply);
  EXPECT_EQ(step.reply->at, now_);
  EXPECT_EQ(step.reply->bus, kBus);
  EXPECT_FALSE(step.reply->fd);
}

TEST_F(ReceiverTest, BlockSizeAndSeparationTimeAreWhatTheConfigurationSays) {
  answer(2, 0x14);
  expect_reply(feed("10 1E 01 02 03 04 05 06"), 0x7E1, "30 02 14 CC CC CC CC CC");
  EXPECT_FALSE(feed("21 01 02 03 04 05 06 07").reply);
  expect_reply(feed("22 01 02 03 04 05 06 07"), 0x7E1, "30 02 14 CC CC CC CC CC");
  EXPECT_FALSE(feed("23 01 02 03 04 05 06 07").reply);
  // The block is full with the last frame: nothing more to let through.
  const auto step = feed("24 01 02 03 04 05 06 07");
  EXPECT_TRUE(step.message);
  EXPECT_FALSE(step.reply);
}

TEST_F(ReceiverTest, ANewTransferStartsItsBlockAnew) {
  answer(2);
  (void)feed("10 1E 01 02 03 04 05 06");
  (void)feed("21 01 02 03 04 05 06 07");
  (void)feed("10 1E 01 02 03 04 05 06");
  EXPECT_FALSE(feed("21 01 02 03 04 05 06 07").reply);
  EXPECT_TRUE(feed("22 01 02 03 04 05 06 07").reply);
}

TEST_F(ReceiverTest, FlowControlComesAfterEveryFrameWithBlockSizeOne) {
  answer(1);
  EXPECT_TRUE(feed("10 1E 01 02 03 04 05 06").reply);
  EXPECT_TRUE(feed("21 01 02 03 04 05 06 07").reply);
  EXPECT_TRUE(feed("22 01 02 03 04 05 06 07").reply);
  EXPECT_TRUE(feed("23 01 02 03 04 05 06 07").reply);
  EXPECT_TRUE(feed("24 01 02 03 04 05 06 07").message);
}

TEST_F(ReceiverTest, FlowControlOfOthersIsIgnored) {
  // ISO 15765-2, unexpected N_PDU: FC is ignored by the receive side
  expect_nothing(feed("30 00 00"));
  (void)feed("10 08 01 02 03 04 05 06");
  expect_nothing(feed("30 00 00 CC CC CC CC CC"));
  expect_nothing(feed("31 00 00 CC CC CC CC CC"));
  expect_nothing(feed("32 00 00 CC CC CC CC CC"));
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, FlowControlDoesNotProlongTheTransfer) {
  (void)feed("10 08 01 02 03 04 05 06");
  const auto deadline = receiver_.deadline();
  (void)wait(900ms);
  (void)feed("30 00 00");
  EXPECT_EQ(receiver_.deadline(), deadline);
}

// ---- time

TEST_F(ReceiverTest, NCrIsOneSecond) {
  EXPECT_EQ(kNCr, 1000ms);  // ISO 15765-2, N_Cr timeout
}

TEST_F(ReceiverTest, AListenerTimesOutOneSecondAfterTheFirstFrame) {
  // ISO 15765-2, N_Cr: the state has the deadline, whoever sends flow control
  const TimePoint first = now_;
  (void)feed("10 14 49 02 01 31 32 33");
  EXPECT_EQ(receiver_.deadline(), first + 1s);
  expect_nothing(wait(999'999us));
  const auto step = wait(1us);
  expect_loss(step, kLossTimedOut, 1);
  EXPECT_EQ(step.loss->at, first + 1s);
  EXPECT_EQ(step.loss->from, unit());
  EXPECT_FALSE(receiver_.receiving());
}

TEST_F(ReceiverTest, ALateCallStampsTheLossWithTheDeadline) {
  const TimePoint first = now_;
  (void)feed("10 14 49 02 01 31 32 33");
  const auto step = wait(60s);
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->at, first + 1s);
}

TEST_F(ReceiverTest, EachConsecutiveFrameStartsTheSecondAnew) {
  answer(1);
  (void)feed("10 1E 01 02 03 04 05 06");
  (void)wait(900ms);
  (void)feed("21 01 02 03 04 05 06 07");
  (void)wait(900ms);
  EXPECT_TRUE(receiver_.receiving());
  (void)feed("22 01 02 03 04 05 06 07");
  expect_loss(wait(1s), kLossTimedOut, 3);
}

TEST_F(ReceiverTest, AfterATimeoutTheNextMessageComesWhole) {
  // python-can-isotp: timeout, then recovery
  (void)feed("10 08 01 02 03 04 05 06");
  (void)wait(2s);
  (void)feed("10 08 01 02 03 04 05 06");
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, AFrameAfterTheDeadlineFindsTheTransferGoneEvenWhenNobodyFiredIt) {
  (void)feed("10 08 01 02 03 04 05 06");
  now_ += 1s;
  const auto step = feed("21 07 08");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossNoFirst, 2);
}

TEST_F(ReceiverTest, ASingleFrameAfterTheDeadlineTellsOfTheTimeoutAndIsAMessage) {
  const TimePoint first = now_;
  (void)feed("10 08 01 02 03 04 05 06");
  now_ += 5s;
  const auto step = feed("02 7E 00");
  expect_message(step, bytes("7E 00"));
  expect_loss(step, kLossTimedOut, 1);
  EXPECT_EQ(step.loss->at, first + 1s);
}

TEST_F(ReceiverTest, NothingIsDueWhileNothingRuns) {
  EXPECT_FALSE(receiver_.deadline());
  (void)feed("02 7E 00");
  EXPECT_FALSE(receiver_.deadline());
  expect_nothing(wait(10s));
}

TEST_F(ReceiverTest, ATransferThatRunsAtTheEndIsLost) {
  (void)feed("10 14 49 02 01 31 32 33");
  (void)feed("21 34 35 36 37 38 39 41");
  expect_loss(receiver_.on_end(now_), kLossUnfinished, 2);
  expect_nothing(receiver_.on_end(now_));
}

}  // namespace
}  // namespace sumplog
