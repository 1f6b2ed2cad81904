#include "core/isotp/sender.h"

#include <gtest/gtest.h>

#include <chrono>
#include <stdexcept>

#include "core/isotp/frames.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

/// The transmission unit of the simulated vehicle sends on 7E9 and obeys 7E1.
class SenderTest : public ::testing::Test {
 protected:
  static SenderConfig config() {
    SenderConfig one;
    one.from = {kBus, standard_id(0x7E9), std::nullopt};
    one.flow_control_from = {kBus, standard_id(0x7E1), std::nullopt};
    return one;
  }
  SenderStep flow(std::string_view hex) {
    return sender_.on_frame(frame(now_, standard_id(0x7E1), bytes(hex)));
  }
  /// The frame that is due now, as bytes; nothing when none is due.
  std::vector<std::uint8_t> due() {
    const auto step = sender_.on_deadline(now_);
    ended_ = step.ended;
    return step.frame ? data_of(*step.frame) : std::vector<std::uint8_t>{};
  }
  /// Frames that may be sent until one must wait.
  int burst() {
    int count = 0;
    while (sender_.deadline() && *sender_.deadline() <= now_ && !due().empty()) ++count;
    return count;
  }
  SenderStep start(std::size_t length) { return sender_.start(numbered(length), now_); }

  TimePoint now_ = kStart;
  Sender sender_ = Sender(config());
  std::optional<SendResult> ended_;
};

void expect_frame(const SenderStep& step, std::string_view hex) {
  ASSERT_TRUE(step.frame);
  EXPECT_EQ(data_of(*step.frame), bytes(hex));
}

// ---- normal

TEST_F(SenderTest, AShortMessageIsASingleFrame) {
  // ISO 15765-2, SF; padding CC
  const auto step = sender_.start(bytes("41 05 7B"), now_);
  expect_frame(step, "03 41 05 7B CC CC CC CC");
  EXPECT_EQ(step.ended, SendResult::sent);
  EXPECT_EQ(step.frame->id, standard_id(0x7E9));
  EXPECT_EQ(step.frame->bus, kBus);
  EXPECT_EQ(step.frame->at, now_);
  EXPECT_TRUE(sender_.idle());
  EXPECT_FALSE(sender_.deadline());
}

TEST_F(SenderTest, ALongMessageWaitsForFlowControlAfterTheFirstFrame) {
  // ISO 15765-2; SAE J1979 service 09: 20 bytes = 6 + 7 + 7
  const auto step = sender_.start(bytes("49 02 01 31 32 33 34 35 36 37 38 39 41 42 43 44 45 46 47 48"), now_);
  expect_frame(step, "10 14 49 02 01 31 32 33");
  EXPECT_FALSE(step.ended);
  EXPECT_EQ(sender_.deadline(), now_ + 1s);
  EXPECT_TRUE(due().empty());
  const auto answer = flow("30 00 00");
  EXPECT_FALSE(answer.frame);
  EXPECT_FALSE(answer.ended);
  EXPECT_EQ(due(), bytes("21 34 35 36 37 38 39 41"));
  EXPECT_FALSE(ended_);
  EXPECT_EQ(due(), bytes("22 42 43 44 45 46 47 48"));
  EXPECT_EQ(ended_, SendResult::sent);
  EXPECT_TRUE(sender_.idle());
  EXPECT_FALSE(sender_.deadline());
}

TEST_F(SenderTest, TheSequenceNumberWrapsFromFToZero) {
  (void)start(6 + 7 * 33);
  (void)flow("30 00 00");
  for (unsigned i = 1; i <= 33; ++i) EXPECT_EQ(due().at(0), 0x20 | (i & 0xF));
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, WithoutPaddingFramesAreAsLongAsTheirData) {
  SenderConfig short_frames = config();
  short_frames.padding = std::nullopt;
  sender_ = Sender(short_frames);
  expect_frame(sender_.start(bytes("43 00"), now_), "02 43 00");
  (void)start(8);
  (void)flow("30 00 00");
  EXPECT_EQ(due().size(), 3U);
}

TEST_F(SenderTest, ThePaddingByteIsConfiguration) {
  SenderConfig zeros = config();
  zeros.padding = std::uint8_t{0x00};
  sender_ = Sender(zeros);
  expect_frame(sender_.start(bytes("43 00"), now_), "02 43 00 00 00 00 00 00");
}

TEST_F(SenderTest, AMessageAbove4095BytesHasTheEscapeLength) {
  // ISO 15765-2:2016, FF_DL > 4095
  const auto step = start(4096);
  ASSERT_TRUE(step.frame);
  const auto data = data_of(*step.frame);
  EXPECT_EQ(std::vector<std::uint8_t>(data.begin(), data.begin() + 6), bytes("10 00 00 00 10 00"));
  (void)flow("30 00 00");
  EXPECT_EQ(burst(), (4096 - 2 + 6) / 7);
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, FourThousandAndNinetyFiveBytesHaveTheShortLength) {
  const auto step = start(4095);
  EXPECT_EQ(step.frame->bytes[0], 0x1F);
  EXPECT_EQ(step.frame->bytes[1], 0xFF);
}

// ---- flow control

TEST_F(SenderTest, ABlockEndsWithWaitingForFlowControl) {
  // ISO 15765-2, BS
  (void)start(6 + 7 * 5);
  (void)flow("30 02 00");
  EXPECT_EQ(burst(), 2);
  EXPECT_EQ(sender_.deadline(), now_ + 1s);
  (void)flow("30 02 00");
  EXPECT_EQ(burst(), 2);
  (void)flow("30 02 00");
  EXPECT_EQ(burst(), 1);
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, SeparationTimeLiesBetweenConsecutiveFrames) {
  // ISO 15765-2, STmin 14 = 20 ms
  (void)start(6 + 7 * 3);
  (void)flow("30 00 14");
  EXPECT_FALSE(due().empty());
  EXPECT_EQ(sender_.deadline(), now_ + 20ms);
  now_ += 19'999us;
  EXPECT_TRUE(due().empty());
  now_ += 1us;
  EXPECT_FALSE(due().empty());
}

TEST_F(SenderTest, AReservedSeparationTimeMeans127Milliseconds) {
  // Linux net/can/isotp.c isotp_rcv_fc
  (void)start(6 + 7 * 3);
  (void)flow("30 00 80");
  EXPECT_FALSE(due().empty());
  EXPECT_EQ(sender_.deadline(), now_ + 127ms);
}

TEST_F(SenderTest, BlockSizeAndSeparationTimeComeFromTheFirstFlowControlAlone) {
  // Linux net/can/isotp.c isotp_rcv_fc: only in ISOTP_WAIT_FIRST_FC
  (void)start(6 + 7 * 4);
  (void)flow("30 02 00");
  EXPECT_EQ(burst(), 2);
  (void)flow("30 01 7F");
  EXPECT_EQ(burst(), 2);
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, TheNextMessageTakesItsParametersAnew) {
  (void)start(6 + 7 * 2);
  (void)flow("30 01 00");
  EXPECT_EQ(burst(), 1);
  (void)flow("30 01 00");
  EXPECT_EQ(burst(), 1);
  (void)start(6 + 7 * 2);
  (void)flow("30 00 00");
  EXPECT_EQ(burst(), 2);
}

TEST_F(SenderTest, AWaitFrameProlongsTheWaiting) {
  SenderConfig patient = config();
  patient.max_waits = 2;
  sender_ = Sender(patient);
  (void)start(20);
  now_ += 900ms;
  EXPECT_FALSE(flow("31 00 00").ended);
  EXPECT_EQ(sender_.deadline(), now_ + 1s);
  now_ += 900ms;
  EXPECT_FALSE(flow("31 00 00").ended);
  now_ += 900ms;
  EXPECT_FALSE(flow("30 00 00").ended);
  EXPECT_EQ(burst(), 2);
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, WaitFramesInARowAreLimited) {
  // ISO 15765-2, N_WFTmax
  SenderConfig patient = config();
  patient.max_waits = 2;
  sender_ = Sender(patient);
  (void)start(20);
  EXPECT_FALSE(flow("31 00 00").ended);
  EXPECT_FALSE(flow("31 00 00").ended);
  EXPECT_EQ(flow("31 00 00").ended, SendResult::too_many_waits);
  EXPECT_TRUE(sender_.idle());
}

TEST_F(SenderTest, AContinueFrameStartsTheCountOfWaitFramesAnew) {
  SenderConfig patient = config();
  patient.max_waits = 1;
  sender_ = Sender(patient);
  (void)start(6 + 7 * 2);
  (void)flow("31 00 00");
  (void)flow("30 01 00");
  EXPECT_EQ(burst(), 1);
  EXPECT_FALSE(flow("31 00 00").ended);
  EXPECT_EQ(flow("31 00 00").ended, SendResult::too_many_waits);
}

TEST_F(SenderTest, NoWaitFrameIsPutUpWithUnlessConfigured) {
  // Linux include/uapi/linux/can/isotp.h: WFTmax default 0
  (void)start(20);
  EXPECT_EQ(flow("31 00 00").ended, SendResult::too_many_waits);
}

TEST_F(SenderTest, FlowControlThatIsNotAwaitedDoesNothing) {
  (void)flow("30 00 00");
  EXPECT_FALSE(sender_.deadline());
  (void)start(6 + 7 * 3);
  (void)flow("30 00 14");
  (void)due();
  const auto next = sender_.deadline();
  EXPECT_FALSE(flow("32 00 00").ended);
  EXPECT_FALSE(flow("30 01 00").ended);
  EXPECT_EQ(sender_.deadline(), next);
}

TEST_F(SenderTest, FramesOfOthersAndOtherFrameTypesDoNothing) {
  (void)start(20);
  (void)sender_.on_frame(frame(now_, standard_id(0x7E0), bytes("30 00 00")));
  (void)sender_.on_frame(frame(now_, extended_id(0x7E1), bytes("30 00 00")));
  (void)flow("02 3E 00");
  (void)flow("");
  CanFrame other_bus = frame(now_, standard_id(0x7E1), bytes("30 00 00"));
  other_bus.bus = BusName{"can1"};
  (void)sender_.on_frame(other_bus);
  CanFrame remote = frame(now_, standard_id(0x7E1), bytes("30 00 00"));
  remote.kind = FrameKind::remote;
  (void)sender_.on_frame(remote);
  EXPECT_EQ(sender_.deadline(), now_ + 1s);
  EXPECT_TRUE(due().empty());
}

// ---- errors

TEST_F(SenderTest, NoFlowControlForASecondEndsTheMessage) {
  // ISO 15765-2, N_Bs
  (void)start(20);
  now_ += 999'999us;
  EXPECT_FALSE(sender_.on_deadline(now_).ended);
  now_ += 1us;
  EXPECT_EQ(sender_.on_deadline(now_).ended, SendResult::no_flow_control);
  EXPECT_TRUE(sender_.idle());
}

TEST_F(SenderTest, NoFlowControlAfterABlockEndsTheMessageToo) {
  (void)start(6 + 7 * 3);
  (void)flow("30 01 00");
  EXPECT_EQ(burst(), 1);
  now_ += 1s;
  EXPECT_EQ(sender_.on_deadline(now_).ended, SendResult::no_flow_control);
}

TEST_F(SenderTest, OverflowEndsTheMessage) {
  (void)start(20);
  EXPECT_EQ(flow("32 00 00").ended, SendResult::overflow);
  EXPECT_TRUE(sender_.idle());
  EXPECT_FALSE(sender_.deadline());
}

TEST_F(SenderTest, AReservedFlowStatusEndsTheMessage) {
  // ISO 15765-2, FS 3…F; Linux net/can/isotp.c: default branch stops the job
  for (int status = 3; status <= 0xF; ++status) {
    (void)start(20);
    const std::vector<std::uint8_t> data{static_cast<std::uint8_t>(0x30 | status), 0, 0};
    EXPECT_EQ(sender_.on_frame(frame(now_, standard_id(0x7E1), data)).ended, SendResult::bad_flow_status);
  }
}

TEST_F(SenderTest, AFlowControlThatIsTooShortEndsTheMessage) {
  // Linux net/can/isotp.c isotp_rcv_fc: malformed
  (void)start(20);
  EXPECT_EQ(flow("30 00").ended, SendResult::bad_flow_status);
}

TEST_F(SenderTest, AfterAnErrorTheNextMessageIsSent) {
  (void)start(20);
  (void)flow("32 00 00");
  expect_frame(start(3), "03 00 1F 3E CC CC CC CC");
}

TEST_F(SenderTest, AFrameLengthThatCanNotBeIsABug) {
  SenderConfig wrong = config();
  wrong.fd = true;
  for (const std::size_t length : {0U, 7U, 9U, 40U, 65U}) {
    wrong.frame_length = length;
    EXPECT_THROW(Sender{wrong}, std::invalid_argument) << length;
  }
  wrong.fd = false;
  wrong.frame_length = 64;
  EXPECT_THROW(Sender{wrong}, std::invalid_argument);
}

// ---- address byte, CAN FD

TEST_F(SenderTest, WithAnAddressByteFramesHoldOneByteLessAndTheByteOfFlowControlIsTheUnit) {
  // ISO 15765-2, extended addressing
  SenderConfig extended;
  extended.from = {kBus, standard_id(0x612), 0xF1};
  extended.flow_control_from = {kBus, standard_id(0x6F1), 0x12};
  sender_ = Sender(extended);
  expect_frame(sender_.start(bytes("01 02 03 04 05 06"), now_), "F1 06 01 02 03 04 05 06");
  expect_frame(sender_.start(bytes("01 02 03 04 05 06 07"), now_), "F1 10 07 01 02 03 04 05");
  (void)sender_.on_frame(frame(now_, standard_id(0x6F1), bytes("13 30 00 00")));
  EXPECT_TRUE(due().empty());
  (void)sender_.on_frame(frame(now_, standard_id(0x6F1), bytes("12 30 00 00")));
  EXPECT_EQ(due(), bytes("F1 21 06 07 CC CC CC CC"));
  EXPECT_EQ(ended_, SendResult::sent);
}

TEST_F(SenderTest, FdFramesHaveTheEscapeForSingleFramesAndFillUpToADlc) {
  // ISO 15765-2:2016, SF with CAN_DL > 8; padding to the next DLC is mandatory there
  SenderConfig fd = config();
  fd.fd = true;
  fd.bit_rate_switch = true;
  fd.frame_length = 64;
  fd.padding = std::nullopt;
  sender_ = Sender(fd);
  auto step = start(10);
  EXPECT_EQ(step.frame->length, 12);
  EXPECT_TRUE(step.frame->fd);
  EXPECT_TRUE(step.frame->bit_rate_switch);
  EXPECT_EQ(step.frame->bytes[0], 0x00);
  EXPECT_EQ(step.frame->bytes[1], 10);
  step = start(11);
  EXPECT_EQ(step.frame->length, 16);
  EXPECT_EQ(step.frame->bytes[13], 0xCC);
  EXPECT_EQ(step.ended, SendResult::sent);
  step = start(62);
  EXPECT_EQ(step.ended, SendResult::sent);
  step = start(63);
  EXPECT_FALSE(step.ended);
  EXPECT_EQ(step.frame->length, 64);
  EXPECT_EQ(step.frame->bytes[0], 0x10);
  EXPECT_EQ(step.frame->bytes[1], 63);
}

TEST_F(SenderTest, AShortMessageOnFdHasTheShortForm) {
  SenderConfig fd = config();
  fd.fd = true;
  fd.frame_length = 64;
  sender_ = Sender(fd);
  expect_frame(sender_.start(bytes("43 00"), now_), "02 43 00 CC CC CC CC CC");
}

TEST_F(SenderTest, WhatIsNotDueIsNotSent) {
  EXPECT_TRUE(due().empty()) << "nothing was begun";
  start(20);
  EXPECT_FALSE(sender_.on_deadline(now_).ended) << "flow control may still come";
  flow("30 00 14");  // ISO 15765-2: 20 ms between frames
  EXPECT_FALSE(due().empty());
  now_ += 19ms;
  EXPECT_TRUE(due().empty());
  now_ += 1ms;
  EXPECT_FALSE(due().empty());
}

}  // namespace
}  // namespace sumplog
