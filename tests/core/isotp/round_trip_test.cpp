#include <gtest/gtest.h>

#include <chrono>

#include "core/isotp/conversation.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

void expect_whole(const Conversation& talk, const std::vector<std::uint8_t>& payload) {
  ASSERT_TRUE(talk.message) << payload.size();
  EXPECT_EQ(talk.message->payload, payload) << payload.size();
  EXPECT_EQ(talk.result, SendResult::sent) << payload.size();
  EXPECT_TRUE(talk.losses.empty()) << payload.size();
}

TEST(SenderToReceiver, EveryLengthOfAClassicMessageArrives) {
  Sender sender(sender_config());
  Receiver receiver(receiver_config());
  for (std::size_t length = 1; length <= 4095; ++length) {
    const auto payload = numbered(length);
    const auto talk = converse(sender, receiver, payload);
    expect_whole(talk, payload);
    // ISO 15765-2: 7 bytes in a single frame; else 6 in the first, 7 in each other, and one flow control
    const std::size_t frames = length <= 7 ? 1 : 2 + (length - 6 + 6) / 7;
    EXPECT_EQ(talk.frames.size(), frames) << length;
  }
}

TEST(SenderToReceiver, LongClassicMessagesArrive) {
  // python-can-isotp: 4096 and 10000 bytes; the largest that the default buffer takes
  Sender sender(sender_config());
  Receiver receiver(receiver_config());
  for (const std::size_t length : {4096U, 4097U, 5000U, 10000U, 65535U}) {
    const auto payload = numbered(length);
    expect_whole(converse(sender, receiver, payload), payload);
  }
}

TEST(SenderToReceiver, AMessageAboveTheBufferIsRefusedWithOverflow) {
  Sender sender(sender_config());
  Receiver receiver(receiver_config());
  const auto talk = converse(sender, receiver, numbered(65536));
  EXPECT_FALSE(talk.message);
  EXPECT_EQ(talk.result, SendResult::overflow);
  EXPECT_EQ(talk.losses.size(), 1U);
  EXPECT_EQ(talk.frames.size(), 2U);
}

TEST(SenderToReceiver, EveryFrameLengthOfCanFdCarriesEveryMessageUpTo600Bytes) {
  for (const std::size_t frame_length : {8U, 12U, 16U, 20U, 24U, 32U, 48U, 64U}) {
    SenderConfig config = sender_config(frame_length);
    config.fd = true;
    Sender sender(config);
    Receiver receiver(receiver_config());
    for (std::size_t length = 1; length <= 600; ++length) {
      const auto payload = numbered(length);
      const auto talk = converse(sender, receiver, payload);
      expect_whole(talk, payload);
      for (const CanFrame& one : talk.frames) {
        EXPECT_TRUE(one.fd);
        EXPECT_LE(one.length, frame_length);
        EXPECT_EQ(one.length, full_length(one.length));
      }
    }
  }
}

TEST(SenderToReceiver, LongFdMessagesArrive) {
  Sender sender(sender_config(64));
  Receiver receiver(receiver_config());
  for (const std::size_t length : {4095U, 4096U, 5000U, 65535U}) {
    const auto payload = numbered(length);
    expect_whole(converse(sender, receiver, payload), payload);
  }
}

TEST(SenderToReceiver, AddressBytesWorkInBothFormats) {
  for (const std::size_t frame_length : {8U, 64U}) {
    SenderConfig from = sender_config(frame_length);
    from.from = {kBus, extended_id(0x18CEF118), 0x55};
    from.flow_control_from = {kBus, extended_id(0x18CE18F1), 0x55};
    ReceiverConfig to;
    to.from = from.from;
    to.reply_to = from.flow_control_from;
    Sender sender(from);
    Receiver receiver(to);
    for (std::size_t length = 1; length <= 300; ++length) {
      const auto payload = numbered(length);
      expect_whole(converse(sender, receiver, payload), payload);
    }
    const auto payload = numbered(4096);
    expect_whole(converse(sender, receiver, payload), payload);
  }
}

TEST(SenderToReceiver, WithoutPaddingEveryLengthArrivesToo) {
  SenderConfig config = sender_config();
  config.padding = std::nullopt;
  Sender sender(config);
  Receiver receiver(receiver_config());
  for (std::size_t length = 1; length <= 300; ++length) {
    const auto payload = numbered(length);
    expect_whole(converse(sender, receiver, payload), payload);
  }
}

TEST(SenderToReceiver, EveryBlockSizeArrives) {
  Sender sender(sender_config());
  const auto payload = numbered(6 + 7 * 50);
  for (int block_size = 0; block_size <= 60; ++block_size) {
    Receiver receiver(receiver_config(static_cast<std::uint8_t>(block_size)));
    const auto talk = converse(sender, receiver, payload);
    expect_whole(talk, payload);
    // 50 consecutive frames: one flow control at first, and one after each full block but the last frame
    const std::size_t flow_controls = block_size == 0 ? 1 : 1 + 49 / static_cast<std::size_t>(block_size);
    EXPECT_EQ(talk.frames.size(), 51 + flow_controls) << block_size;
  }
}

TEST(SenderToReceiver, SeparationTimeShapesTheTransfer) {
  // ISO 15765-2, STmin: between consecutive frames, so one gap less than frames
  Sender sender(sender_config());
  Receiver receiver(receiver_config(0, 0x14));
  const auto talk = converse(sender, receiver, numbered(6 + 7 * 10));
  EXPECT_TRUE(talk.message);
  EXPECT_EQ(talk.lasted, 9 * 20ms);
}

TEST(SenderToReceiver, ASeparationTimeOf127MillisecondsStaysInsideNCr) {
  Sender sender(sender_config());
  Receiver receiver(receiver_config(0, 0xFF));
  const auto payload = numbered(300);
  expect_whole(converse(sender, receiver, payload), payload);
}

}  // namespace
}  // namespace sumplog
