#include <gtest/gtest.h>

#include <array>
#include <chrono>

#include "core/isotp/frames.h"
#include "core/isotp/listening.h"
#include "core/isotp/loss.h"
#include "core/isotp/pci.h"
#include "core/isotp/receiver.h"

namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

struct Range {
  std::size_t frame_length;
  std::size_t shortest;
  std::size_t longest;
};
// ISO 15765-2:2016, SF_DL by CAN_DL with normal addressing (from memory; no second source)
constexpr std::array<Range, 7> kSingles{
    {{12, 8, 10}, {16, 11, 14}, {20, 15, 18}, {24, 19, 22}, {32, 23, 30}, {48, 31, 46}, {64, 47, 62}}};

/// An FD single frame: escape, length, data.
std::vector<std::uint8_t> single(std::size_t frame_length, std::size_t length) {
  std::vector<std::uint8_t> data{0x00, static_cast<std::uint8_t>(length)};
  data.resize(frame_length, 0x5A);
  return data;
}

class FdReceiverTest : public Listening {};

TEST_F(FdReceiverTest, ALongSingleFrameTakesTheLengthsThatNoShorterFrameHolds) {
  for (const Range& range : kSingles) {
    for (std::size_t length = 0; length <= 70; ++length) {
      const auto step = feed(single(range.frame_length, length));
      if (length >= range.shortest && length <= range.longest) {
        expect_message(step, std::vector<std::uint8_t>(length, 0x5A));
        EXPECT_FALSE(step.loss);
      } else {
        EXPECT_FALSE(step.message) << range.frame_length << ' ' << length;
        expect_loss(step, kLossSingleLength, 1);
      }
    }
  }
}

TEST_F(FdReceiverTest, WithAnAddressByteEveryRangeIsOneLower) {
  ReceiverConfig config;
  config.from = {kBus, standard_id(0x612), 0xF1};
  begin(config);
  for (const Range& range : kSingles) {
    for (std::size_t length = 0; length <= 70; ++length) {
      std::vector<std::uint8_t> data{0xF1, 0x00, static_cast<std::uint8_t>(length)};
      data.resize(range.frame_length, 0x5A);
      const bool fits = length >= range.shortest - 1 && length <= range.longest - 1;
      EXPECT_EQ(feed(data).message.has_value(), fits) << range.frame_length << ' ' << length;
    }
  }
}

TEST_F(FdReceiverTest, AShortLengthInALongFrameIsIgnored) {
  // Linux net/can/isotp.c isotp_rcv: above 8 bytes the low nibble of a single frame is 0
  expect_loss(feed(filled("07 01 02", 12)), kLossSingleLength, 1);
  expect_loss(feed(filled("05 09 02", 12)), kLossSingleLength, 1);  // nor does byte 1 make it an escape
}

TEST_F(FdReceiverTest, AnFdFrameOfEightBytesHasTheShortForm) {
  CanFrame one = frame(now_, unit().id, bytes("03 41 05 7B 00 00 00 00"));
  one.fd = true;
  expect_message(receiver_.on_frame(one), bytes("41 05 7B"));
}

TEST_F(FdReceiverTest, AHundredBytesInFramesOf64) {
  // ISO 15765-2: the first frame holds 62, the last one the rest and padding up to the next DLC
  const auto payload = numbered(100);
  std::vector<std::uint8_t> first{0x10, 100};
  first.insert(first.end(), payload.begin(), payload.begin() + 62);
  expect_nothing(feed(first));
  std::vector<std::uint8_t> last{0x21};
  last.insert(last.end(), payload.begin() + 62, payload.end());
  last.resize(48, 0xCC);
  expect_message(feed(last), payload);
}

TEST_F(FdReceiverTest, AnEscapeLengthLeaves58BytesInTheFirstFrame) {
  // ISO 15765-2:2016: 5000 = 1388 hex; 64 - 6 = 58
  const auto payload = numbered(5000);
  std::vector<std::uint8_t> data = bytes("10 00 00 00 13 88");
  data.insert(data.end(), payload.begin(), payload.begin() + 58);
  auto step = feed(data);
  std::uint8_t number = 1;
  for (std::size_t sent = 58; sent < payload.size(); sent += 63, ++number) {
    EXPECT_FALSE(step.message);
    data.assign({static_cast<std::uint8_t>(0x20 | (number & 0xF))});
    for (std::size_t i = sent; i < std::min(sent + 63, payload.size()); ++i) data.push_back(payload[i]);
    step = feed(data);
  }
  expect_message(step, payload);
}

TEST_F(FdReceiverTest, TheLeastFirstFrameLengthFollowsTheFrame) {
  // ISO 15765-2:2016, table 14: FF_DL minimum RX_DL - 1 above 8 bytes (RX_DL - 2 with an address byte: from
  // memory)
  for (const std::size_t length : {12U, 16U, 20U, 24U, 32U, 48U, 64U}) {
    std::vector<std::uint8_t> data{0x10, static_cast<std::uint8_t>(length - 2)};
    data.resize(length, 0x5A);
    expect_loss(feed(data), kLossFirstTooSmall, 1);
    data[1] = static_cast<std::uint8_t>(length - 1);
    expect_nothing(feed(data));
    EXPECT_TRUE(receiver_.receiving());
    (void)receiver_.on_end(now_);
  }
}

TEST_F(FdReceiverTest, AFirstFrameHasALengthThatADlcCanName) {
  for (std::size_t length = 9; length <= 64; ++length) {
    std::vector<std::uint8_t> data{0x11, 0x00};
    data.resize(length, 0x5A);
    const bool full = full_length(length) == length;
    const auto step = feed(data);
    EXPECT_EQ(receiver_.receiving(), full) << length;
    if (!full) expect_loss(step, kLossFirstNotFull, 1);
    (void)receiver_.on_end(now_);
  }
}

TEST_F(FdReceiverTest, AConsecutiveFrameIsNeverLongerThanTheFirst) {
  // Linux net/can/isotp.c isotp_rcv_cf: CFs are never longer than the FF
  (void)feed("10 14 49 02 01 31 32 33");
  expect_loss(feed(filled("21", 64)), kLossConsecutiveLength, 1);
  expect_nothing(feed("21 34 35 36 37 38 39 41"));
  expect_loss(feed(filled("22", 12)), kLossConsecutiveLength, 1);
  EXPECT_TRUE(feed("22 42 43 44 45 46 47 48").message);
}

TEST_F(FdReceiverTest, TheFrameLengthMayChangeFromMessageToMessage) {
  // python-can-isotp: changing RX_DL
  for (const std::size_t length : {64U, 8U, 12U, 48U, 8U}) {
    const auto payload = numbered(120);
    std::vector<std::uint8_t> data{0x10, 120};
    data.insert(data.end(), payload.begin(), payload.begin() + static_cast<std::ptrdiff_t>(length - 2));
    auto step = feed(data);
    std::uint8_t number = 1;
    for (std::size_t sent = length - 2; sent < payload.size(); sent += length - 1, ++number) {
      EXPECT_FALSE(step.message);
      data.assign({static_cast<std::uint8_t>(0x20 | (number & 0xF))});
      for (std::size_t i = sent; i < std::min(sent + length - 1, payload.size()); ++i)
        data.push_back(payload[i]);
      step = feed(data);
    }
    expect_message(step, payload);
  }
}

TEST_F(FdReceiverTest, FlowControlHasTheFormatOfTheFirstFrameAndEightBytes) {
  answer();
  CanFrame one = frame(now_, unit().id, filled("10 64", 64));
  one.bit_rate_switch = true;
  const auto step = receiver_.on_frame(one);
  expect_reply(step, 0x7E1, "30 00 00 CC CC CC CC CC");
  EXPECT_TRUE(step.reply->fd);
  EXPECT_TRUE(step.reply->bit_rate_switch);
}

}  // namespace
}  // namespace sumplog
