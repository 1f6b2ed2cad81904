#include <gtest/gtest.h>

#include <chrono>

#include "core/isotp/frames.h"
#include "core/isotp/listening.h"
#include "core/isotp/loss.h"
#include "core/isotp/receiver.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

// What a receiver drops, and how it says so.
class ReceiverLosses : public Listening {};

// ---- unexpected frames (ISO 15765-2, table of unexpected N_PDU)

TEST_F(ReceiverLosses, ASingleFrameEndsARunningTransferAndIsAMessage) {
  (void)feed("10 14 49 02 01 31 32 33");
  (void)feed("21 34 35 36 37 38 39 41");
  const auto step = feed("03 7F 09 78");
  expect_message(step, bytes("7F 09 78"));
  expect_loss(step, kLossInterrupted, 2);
  EXPECT_FALSE(receiver_.receiving());
}

TEST_F(ReceiverLosses, AFirstFrameEndsARunningTransferAndStartsItsOwn) {
  (void)feed("10 14 49 02 01 31 32 33");
  const auto step = feed("10 08 01 02 03 04 05 06");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossInterrupted, 1);
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverLosses, AnInterruptedTransferIsAnsweredWithFlowControlForTheNewOne) {
  answer();
  (void)feed("10 14 49 02 01 31 32 33");
  EXPECT_TRUE(feed("10 08 01 02 03 04 05 06").reply);
}

TEST_F(ReceiverLosses, AConsecutiveFrameWithoutAFirstFrameIsCounted) {
  const auto step = feed("21 01 02 03 04 05 06 07");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossNoFirst, 1);
  EXPECT_FALSE(receiver_.deadline());
}

TEST_F(ReceiverLosses, AConsecutiveFrameAfterTheLastIsCounted) {
  (void)feed("10 08 01 02 03 04 05 06");
  EXPECT_TRUE(feed("21 07 08").message);
  expect_loss(feed("22 07 08"), kLossNoFirst, 1);
}

TEST_F(ReceiverLosses, ReservedFrameTypesAreIgnoredAndCounted) {
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

TEST_F(ReceiverLosses, WrongSequenceNumberAbandonsTheMessageAndSaysSo) {
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

TEST_F(ReceiverLosses, ADoubledConsecutiveFrameAbandonsTheMessage) {
  (void)feed("10 14 49 02 01 31 32 33");
  (void)feed("21 34 35 36 37 38 39 41");
  expect_loss(feed("21 34 35 36 37 38 39 41"), kLossOutOfOrder, 3);
}

TEST_F(ReceiverLosses, SequenceNumberZeroIsWrongForTheFirst) {
  (void)feed("10 14 49 02 01 31 32 33");
  expect_loss(feed("20 34 35 36 37 38 39 41"), kLossOutOfOrder, 2);
}

TEST_F(ReceiverLosses, AFirstFrameThatDoesNotFillItsFrameIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv_ff: the first frame has to use the entire frame
  answer();
  for (std::size_t length = 1; length < 8; ++length) {
    const auto step = feed(filled("10 14", length));
    EXPECT_FALSE(step.reply);
    expect_loss(step, kLossFirstNotFull, 1);
    EXPECT_FALSE(receiver_.receiving());
  }
}

TEST_F(ReceiverLosses, AFirstFrameAnnouncingLessThanEightBytesIsIgnoredWithoutFlowControl) {
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

TEST_F(ReceiverLosses, AnEscapeLengthThatNeedsNoEscapeIsIgnored) {
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

TEST_F(ReceiverLosses, AnIgnoredFirstFrameLeavesARunningTransferAlone) {
  (void)feed("10 08 01 02 03 04 05 06");
  expect_loss(feed("10 07 01 02 03 04 05 06"), kLossFirstTooSmall, 1);
  expect_loss(feed("10 14 01"), kLossFirstNotFull, 1);
  expect_message(feed("21 07 08"), bytes("01 02 03 04 05 06 07 08"));
}

TEST_F(ReceiverLosses, AFirstFrameAboveTheBufferIsAnsweredWithOverflow) {
  // ISO 15765-2, FS overflow; Linux net/can/isotp.c isotp_rcv_ff sends 32 00 00
  answer(4, 0x14);
  const auto step = feed("10 00 00 01 00 00 01 02");  // 65536 bytes, one more than the default buffer
  expect_reply(step, 0x7E1, "32 00 00 CC CC CC CC CC");
  expect_loss(step, kLossFirstTooLarge, 1);
  EXPECT_FALSE(receiver_.receiving());
  EXPECT_TRUE(feed("10 00 00 00 FF FF 01 02").reply);
  EXPECT_TRUE(receiver_.receiving());
}

TEST_F(ReceiverLosses, TheBufferLimitIsConfiguration) {
  ReceiverConfig config{unit()};
  config.max_message = 20;
  begin(config);
  expect_nothing(feed("10 14 49 02 01 31 32 33"));
  const auto step = feed("10 15 49 02 01 31 32 33");
  EXPECT_FALSE(step.reply);                  // a listener does not say overflow either
  expect_loss(step, kLossFirstTooLarge, 2);  // the frame itself, and the one of the transfer that it ended
  EXPECT_FALSE(receiver_.receiving());
}

TEST_F(ReceiverLosses, AListenerTakesTheLargestClaimWithoutReservingIt) {
  ReceiverConfig config{unit()};
  config.max_message = 0xFFFFFFFF;
  begin(config);
  // 4 GiB - 1 claimed in one frame: this test would not survive an allocation of that size under a memory
  // limit.
  expect_nothing(feed("10 00 FF FF FF FF 01 02"));
  EXPECT_TRUE(receiver_.receiving());
  expect_loss(wait(1s), kLossTimedOut, 1);
}

TEST_F(ReceiverLosses, AShortConsecutiveFrameBeforeTheLastIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv_cf: CFs have the length of the FF, only the last may be shorter
  (void)feed("10 14 49 02 01 31 32 33");
  expect_loss(feed("21 34 35 36 37 38 39"), kLossConsecutiveLength, 1);
  expect_nothing(feed("21 34 35 36 37 38 39 41"));
  EXPECT_TRUE(feed("22 42 43 44 45 46 47 48").message);
}

TEST_F(ReceiverLosses, ALastFrameThatDoesNotHoldTheRestIsIgnored) {
  (void)feed("10 09 62 F1 90 01 02 03");
  const auto step = feed("21 04 05");
  EXPECT_FALSE(step.message);
  expect_loss(step, kLossConsecutiveLength, 1);
  expect_message(feed("21 04 05 06"), bytes("62 F1 90 01 02 03 04 05 06"));
}

TEST_F(ReceiverLosses, ASingleFrameOfAnImpossibleLengthIsIgnored) {
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

TEST_F(ReceiverLosses, AnEmptyFrameIsCounted) {
  expect_loss(feed(""), kLossNoControl, 1);
}

TEST_F(ReceiverLosses, FlowControlThatCannotBeReadIsCounted) {
  // ISO 15765-2: FS 3…F reserved, and three bytes are the least
  expect_loss(feed("33 00 00"), kLossFlowControl, 1);
  expect_loss(feed("3F 00 00"), kLossFlowControl, 1);
  expect_loss(feed("30 00"), kLossFlowControl, 1);
  expect_loss(feed("30"), kLossFlowControl, 1);
}

TEST_F(ReceiverLosses, AFunctionalFirstFrameIsIgnored) {
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

TEST_F(ReceiverLosses, RemoteAndErrorFramesAreNotTransport) {
  CanFrame one = frame(now_, standard_id(0x7E9), bytes("02 7E 00"));
  one.kind = FrameKind::remote;
  expect_nothing(receiver_.on_frame(one));
  one.kind = FrameKind::error;
  expect_nothing(receiver_.on_frame(one));
}

TEST_F(ReceiverLosses, OtherIdentifiersAndBusesAreNotHeard) {
  expect_nothing(receiver_.on_frame(frame(now_, standard_id(0x7E8), bytes("02 7E 00"))));
  expect_nothing(receiver_.on_frame(frame(now_, extended_id(0x7E9), bytes("02 7E 00"))));
  CanFrame other = frame(now_, standard_id(0x7E9), bytes("02 7E 00"));
  other.bus = BusName{"can1"};
  expect_nothing(receiver_.on_frame(other));
}

}  // namespace
}  // namespace sumplog
