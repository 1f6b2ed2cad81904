#include <gtest/gtest.h>

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

// Extended and mixed addressing: one address byte before everything else.
class AddressedReceiverTest : public Listening {
 protected:
  void SetUp() override {
    ReceiverConfig config;
    config.from = {kBus, standard_id(0x612), 0xF1};
    config.reply_to = Endpoint{kBus, standard_id(0x6F1), 0x12};
    begin(config);
  }
};

TEST_F(AddressedReceiverTest, TheByteBeforeTheControlInformationIsTheAddress) {
  // ISO 15765-2, extended addressing: N_TA is the first data byte
  const auto step = feed("F1 03 41 05 7B");
  expect_message(step, bytes("41 05 7B"));
  EXPECT_EQ(step.message->from.address, 0xF1);
}

TEST_F(AddressedReceiverTest, AFirstFrameHoldsOneByteLessAndFlowControlCarriesTheAddressOfTheUnit) {
  const auto step = feed("F1 10 0B 01 02 03 04 05");
  expect_reply(step, 0x6F1, "12 30 00 00 CC CC CC CC");
  expect_message(feed("F1 21 06 07 08 09 0A 0B"), bytes("01 02 03 04 05 06 07 08 09 0A 0B"));
}

TEST_F(AddressedReceiverTest, AFrameWithoutAByteIsALossAndNobodysMessage) {
  expect_loss(feed(""), kLossNoControl, 1);
}

TEST_F(AddressedReceiverTest, ASingleFrameHoldsSixBytesAtMost) {
  // ISO 15765-2, SF_DL 1…6 with an address byte
  expect_message(feed("F1 06 01 02 03 04 05 06"), bytes("01 02 03 04 05 06"));
  expect_loss(feed("F1 07 01 02 03 04 05 06"), kLossSingleLength, 1);
}

TEST_F(AddressedReceiverTest, SevenBytesAreTheLeastForAFirstFrame) {
  // ISO 15765-2:2016, table 14: FF_DL minimum 7 with extended or mixed addressing
  expect_loss(feed("F1 10 06 01 02 03 04 05"), kLossFirstTooSmall, 1);
  EXPECT_TRUE(feed("F1 10 07 01 02 03 04 05").reply);
  expect_message(feed("F1 21 06 07"), bytes("01 02 03 04 05 06 07"));
}

TEST_F(AddressedReceiverTest, AnEscapeLengthLeavesOneDataByte) {
  // ISO 15765-2:2016, FF with escape: 1 address byte, 6 control bytes, 1 data byte
  const auto payload = numbered(4096);
  std::vector<std::uint8_t> data = bytes("F1 10 00 00 00 10 00");
  data.push_back(payload[0]);
  auto step = feed(data);
  std::uint8_t number = 1;
  for (std::size_t sent = 1; sent < payload.size(); sent += 6, ++number) {
    EXPECT_FALSE(step.message);
    data.assign({0xF1, static_cast<std::uint8_t>(0x20 | (number & 0xF))});
    for (std::size_t i = sent; i < std::min(sent + 6, payload.size()); ++i) data.push_back(payload[i]);
    step = feed(data);
  }
  expect_message(step, payload);
}

TEST_F(AddressedReceiverTest, FramesForAnotherAddressAreNotHeard) {
  expect_nothing(feed("F2 03 41 05 7B"));
  (void)feed("F1 10 07 01 02 03 04 05");
  expect_nothing(feed("F2 21 0A 0B"));
  expect_message(feed("F1 21 06 07"), bytes("01 02 03 04 05 06 07"));
}

TEST_F(AddressedReceiverTest, AFrameThatHoldsNothingButTheAddressIsCounted) {
  expect_loss(feed("F1"), kLossNoControl, 1);
}

TEST_F(AddressedReceiverTest, EveryRuleShiftsByOneByte) {
  expect_loss(feed("F1 21 06 07"), kLossNoFirst, 1);
  expect_loss(feed("F1 30 00"), kLossFlowControl, 1);
  expect_nothing(feed("F1 30 00 00"));
  expect_loss(feed("F1 40 00"), kLossReservedType, 1);
  (void)feed("F1 10 10 01 02 03 04 05");
  expect_loss(feed("F1 21 06 07 08 09 0A"), kLossConsecutiveLength, 1);
  expect_loss(feed("F1 22 06 07 08 09 0A 0B"), kLossOutOfOrder, 2);
}

}  // namespace
}  // namespace sumplog
