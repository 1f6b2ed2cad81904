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
// ------------------------------------------------------------------------------------------------

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
  ReceiverStep step;
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
// ------------------------------------------------------------------------------------------

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
// --------------------------------------------------------------------------------------------------

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
  (void)feed("10 08 01 02 03 04 05 06");
  now_ += 1s;
  const auto step = feed("02 7E 00");
  expect_message(step, bytes("7E 00"));
  expect_loss(step, kLossTimedOut, 1);
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

// ---- unexpected frames (ISO 15765-2, table of unexpected N_PDU)
// ----------------------------------------------

TEST_F(ReceiverTest, ASingleFrameEndsARunningTransferAndIsAMessage) {
  (void)feed("10 14 49 02 01 31 32 33");
  (void)feed("21 34 35 36 37 38 39 41");
  const auto step = feed("03 7F 09 78");
  expect_message(step, bytes("7F 09 78"));
  expect_loss(step, kLossInterrupted, 2);
  EXPECT_FALSE(receiver_.receiving());
}

TEST_F(ReceiverTest, AFirstFrameEndsARunningTransferAndStartsItsOwn) {
  (void)feed("10 14 49 02 01 31 32 33");
  const auto step = feed("10 08 01 02 03 04 05 06");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossInterrupted, 1);
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, AnInterruptedTransferIsAnsweredWithFlowControlForTheNewOne) {
  answer();
  (void)feed("10 14 49 02 01 31 32 33");
  EXPECT_TRUE(feed("10 08 01 02 03 04 05 06").reply);
}

TEST_F(ReceiverTest, AConsecutiveFrameWithoutAFirstFrameIsCounted) {
  const auto step = feed("21 01 02 03 04 05 06 07");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossNoFirst, 1);
  EXPECT_FALSE(receiver_.deadline());
}

TEST_F(ReceiverTest, AConsecutiveFrameAfterTheLastIsCounted) {
  (void)feed("10 08 01 02 03 04 05 06");
  EXPECT_TRUE(feed("21 07 08").message);
  expect_loss(feed("22 07 08"), kLossNoFirst, 1);
}

TEST_F(ReceiverTest, ReservedFrameTypesAreIgnoredAndCounted) {
  // ISO 15765-2, N_PCI types 4…F reserved
  (void)feed("10 08 01 02 03 04 05 06");
  for (int type = 4; type <= 0xF; ++type) {
    const std::vector<std::uint8_t> data{static_cast<std::uint8_t>(type << 4 | 1), 1, 2, 3, 4, 5, 6, 7};
    const auto step = feed(data);
    EXPECT_FALSE(step.message);
    expect_loss(step, kLossReservedType, 1);
  }
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

// ---- errors
// ------------------------------------------------------------------------------------------------

TEST_F(ReceiverTest, WrongSequenceNumberAbandonsTheMessageAndSaysSo) {
  // Linux net/can/isotp.c isotp_rcv_cf; python-can-isotp test_receive_multiframe_bad_seqnum
  answer();
  (void)feed("10 14 49 02 01 31 32 33");
  const auto step = feed("22 42 43 44 45 46 47 48");
  EXPECT_FALSE(step.message);
  EXPECT_FALSE(step.reply);
  expect_loss(step, kLossOutOfOrder, 2);
  EXPECT_FALSE(receiver_.receiving());
  expect_loss(feed("21 34 35 36 37 38 39 41"), kLossNoFirst, 1);
}

TEST_F(ReceiverTest, ADoubledConsecutiveFrameAbandonsTheMessage) {
  (void)feed("10 14 49 02 01 31 32 33");
  (void)feed("21 34 35 36 37 38 39 41");
  expect_loss(feed("21 34 35 36 37 38 39 41"), kLossOutOfOrder, 3);
}

TEST_F(ReceiverTest, SequenceNumberZeroIsWrongForTheFirst) {
  (void)feed("10 14 49 02 01 31 32 33");
  expect_loss(feed("20 34 35 36 37 38 39 41"), kLossOutOfOrder, 2);
}

TEST_F(ReceiverTest, AFirstFrameThatDoesNotFillItsFrameIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv_ff: the first frame has to use the entire frame
  answer();
  for (std::size_t length = 1; length < 8; ++length) {
    const auto step = feed(filled("10 14", length));
    EXPECT_FALSE(step.reply);
    expect_loss(step, kLossFirstNotFull, 1);
    EXPECT_FALSE(receiver_.receiving());
  }
}

TEST_F(ReceiverTest, AFirstFrameAnnouncingLessThanEightBytesIsIgnoredWithoutFlowControl) {
  // ISO 15765-2:2016, table 14: FF_DL minimum 8 with normal addressing (Linux accepts 6 and 7)
  answer();
  for (const std::string_view text :
       {"10 01 01 02 03 04 05 06", "10 06 01 02 03 04 05 06", "10 07 01 02 03 04 05 06"}) {
    const auto step = feed(text);
    EXPECT_FALSE(step.reply);
    EXPECT_FALSE(step.message);
    expect_loss(step, kLossFirstTooSmall, 1);
    EXPECT_FALSE(receiver_.receiving());
  }
  EXPECT_TRUE(feed("10 08 01 02 03 04 05 06").reply);
}

TEST_F(ReceiverTest, AnEscapeLengthThatNeedsNoEscapeIsIgnored) {
  // ISO 15765-2:2016: the escape is for FF_DL > 4095 (from memory)
  answer();
  for (const std::string_view text :
       {"10 00 00 00 00 00 01 02", "10 00 00 00 00 14 01 02", "10 00 00 00 0F FF 01 02"}) {
    const auto step = feed(text);
    EXPECT_FALSE(step.reply);
    expect_loss(step, kLossFirstTooSmall, 1);
  }
  EXPECT_TRUE(feed("10 00 00 00 10 00 01 02").reply);
}

TEST_F(ReceiverTest, AnIgnoredFirstFrameLeavesARunningTransferAlone) {
  (void)feed("10 08 01 02 03 04 05 06");
  expect_loss(feed("10 07 01 02 03 04 05 06"), kLossFirstTooSmall, 1);
  expect_loss(feed("10 14 01"), kLossFirstNotFull, 1);
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, AFirstFrameAboveTheBufferIsAnsweredWithOverflow) {
  // ISO 15765-2, FS overflow; Linux net/can/isotp.c isotp_rcv_ff sends 32 00 00
  answer(4, 0x14);
  const auto step = feed("10 00 00 01 00 00 01 02");  // 65536 bytes, one more than the default buffer
  expect_reply(step, 0x7E1, "32 00 00 CC CC CC CC CC");
  expect_loss(step, kLossFirstTooLarge, 1);
  EXPECT_FALSE(receiver_.receiving());
  EXPECT_TRUE(feed("10 00 00 00 FF FF 01 02").reply);
  EXPECT_TRUE(receiver_.receiving());
}

TEST_F(ReceiverTest, TheBufferLimitIsConfiguration) {
  ReceiverConfig config{unit()};
  config.max_message = 20;
  begin(config);
  expect_nothing(feed("10 14 49 02 01 31 32 33"));
  const auto step = feed("10 15 49 02 01 31 32 33");
  EXPECT_FALSE(step.reply);                  // a listener does not say overflow either
  expect_loss(step, kLossFirstTooLarge, 2);  // the frame itself, and the one of the transfer that it ended
  EXPECT_FALSE(receiver_.receiving());
}

TEST_F(ReceiverTest, AListenerTakesTheLargestClaimWithoutReservingIt) {
  ReceiverConfig config{unit()};
  config.max_message = 0xFFFFFFFF;
  begin(config);
  // 4 GiB - 1 claimed in one frame: this test would not survive an allocation of that size under a memory
  // limit.
  expect_nothing(feed("10 00 FF FF FF FF 01 02"));
  EXPECT_TRUE(receiver_.receiving());
  expect_loss(wait(1s), kLossTimedOut, 1);
}

TEST_F(ReceiverTest, AShortConsecutiveFrameBeforeTheLastIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv_cf: CFs have the length of the FF, only the last may be shorter
  (void)feed("10 14 49 02 01 31 32 33");
  expect_loss(feed("21 34 35 36 37 38 39"), kLossConsecutiveLength, 1);
  expect_nothing(feed("21 34 35 36 37 38 39 41"));
  EXPECT_TRUE(feed("22 42 43 44 45 46 47 48").message);
}

TEST_F(ReceiverTest, ALastFrameThatDoesNotHoldTheRestIsIgnored) {
  (void)feed("10 09 62 F1 90 01 02 03");
  const auto step = feed("21 04 05");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossConsecutiveLength, 1);
  expect_message(feed("21 04 05 06"), bytes("62 F1 90 01 02 03 04 05 06"));
}

TEST_F(ReceiverTest, ASingleFrameOfAnImpossibleLengthIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv_sf: no length, or more than the frame holds
  (void)feed("10 08 01 02 03 04 05 06");
  for (const std::string_view text : {"00 01 02 03 04 05 06 07", "08 01 02 03 04 05 06 07",
                                      "0F 01 02 03 04 05 06 07", "04 01 02 03", "01", "00"}) {
    const auto step = feed(text);
    EXPECT_FALSE(step.message) << text;
    expect_loss(step, kLossSingleLength, 1);
  }
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverTest, AnEmptyFrameIsCounted) {
  expect_loss(feed(""), kLossNoControl, 1);
}

TEST_F(ReceiverTest, FlowControlThatCannotBeReadIsCounted) {
  // ISO 15765-2: FS 3…F reserved, and three bytes are the least
  expect_loss(feed("33 00 00"), kLossFlowControl, 1);
  expect_loss(feed("3F 00 00"), kLossFlowControl, 1);
  expect_loss(feed("30 00"), kLossFlowControl, 1);
  expect_loss(feed("30"), kLossFlowControl, 1);
}

TEST_F(ReceiverTest, AFunctionalFirstFrameIsIgnored) {
  // ISO 15765-2:2016, table 4 note b: functional addressing carries single frames alone
  ReceiverConfig config;
  config.from = {kBus, standard_id(0x7DF), std::nullopt};
  config.functional = true;
  config.reply_to = Endpoint{kBus, standard_id(0x7E8), std::nullopt};
  begin(config);
  const auto step = feed("10 14 01 05 0C 0D 0F 11");
  EXPECT_FALSE(step.reply);
  expect_loss(step, kLossFirstFunctional, 1);
  EXPECT_FALSE(receiver_.receiving());
  expect_message(feed("02 01 05 00 00 00 00 00"), bytes("01 05"));
}

TEST_F(ReceiverTest, RemoteAndErrorFramesAreNotTransport) {
  CanFrame one = frame(now_, standard_id(0x7E9), bytes("02 7E 00"));
  one.kind = FrameKind::remote;
  expect_nothing(receiver_.on_frame(one));
  one.kind = FrameKind::error;
  expect_nothing(receiver_.on_frame(one));
}

TEST_F(ReceiverTest, OtherIdentifiersAndBusesAreNotHeard) {
  expect_nothing(receiver_.on_frame(frame(now_, standard_id(0x7E8), bytes("02 7E 00"))));
  expect_nothing(receiver_.on_frame(frame(now_, extended_id(0x7E9), bytes("02 7E 00"))));
  CanFrame other = frame(now_, standard_id(0x7E9), bytes("02 7E 00"));
  other.bus = BusName{"can1"};
  expect_nothing(receiver_.on_frame(other));
}

}  // namespace
}  // namespace sumplog
