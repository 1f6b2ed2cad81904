#include <gtest/gtest.h>

#include <chrono>

#include "core/isotp/frames.h"
#include "core/j1939/packets.h"
#include "core/j1939/transport.h"

// A unit (03) sends us (F9) what we asked for: SAE J1939-21, as Linux net/can/j1939/transport.c does it.
namespace sumplog {
namespace {
using namespace std::chrono_literals;
using namespace isotp_words;

constexpr std::uint32_t kManagement = 0x1CECF903;
constexpr std::uint32_t kData = 0x1CEBF903;
constexpr std::uint32_t kAnswers = 0x18EC03F9;
constexpr std::uint32_t kSoftware = 0xFEDA;  // SAE J1939-71 software identification

class SessionWithUs : public ::testing::Test {
 protected:
  TransportStep feed(std::uint32_t id, const std::vector<std::uint8_t>& data) {
    return transport_.on_frame(frame(now_, extended_id(id), data));
  }
  TransportStep feed(std::uint32_t id, std::string_view hex) { return feed(id, bytes(hex)); }
  TransportStep begin(std::size_t size, std::uint8_t at_once) {
    auto rts = announcement(kRts, size, kSoftware);
    rts[4] = at_once;
    return feed(kManagement, rts);
  }
  TimePoint now_ = kStart;
  J1939Transport transport_;
};

void expect_reply(const TransportStep& step, std::string_view hex) {
  ASSERT_TRUE(step.reply);
  EXPECT_EQ(step.reply->id, extended_id(kAnswers));
  EXPECT_EQ(std::vector<std::uint8_t>(step.reply->data().begin(), step.reply->data().end()), bytes(hex));
}

TEST_F(SessionWithUs, IsGrantedInBlocksAndAcknowledged) {
  const auto payload = numbered(30);  // five packets
  const auto first = begin(30, 2);
  expect_reply(first, "11 02 01 FF FF DA FE 00");
  EXPECT_EQ(first.receiving, (Endpoint{kBus, extended_id(0x18FEDA03), std::nullopt}));
  feed(kAnswers, "11 02 01 FF FF DA FE 00");  // our own frame comes back
  EXPECT_FALSE(feed(kData, packet(payload, 1)).reply);
  expect_reply(feed(kData, packet(payload, 2)), "11 02 03 FF FF DA FE 00");
  feed(kAnswers, "11 02 03 FF FF DA FE 00");
  EXPECT_FALSE(feed(kData, packet(payload, 3)).reply);
  expect_reply(feed(kData, packet(payload, 4)), "11 01 05 FF FF DA FE 00");  // no more than there are
  feed(kAnswers, "11 01 05 FF FF DA FE 00");
  const auto last = feed(kData, packet(payload, 5));
  expect_reply(last, "13 1E 00 05 FF DA FE 00");
  ASSERT_TRUE(last.message);
  EXPECT_EQ(last.message->payload, payload);
  EXPECT_EQ(last.message->group, kSoftware);
  EXPECT_FALSE(feed(kAnswers, "13 1E 00 05 FF DA FE 00").loss);
  EXPECT_FALSE(transport_.on_deadline(now_ + 1h).loss);
}

TEST_F(SessionWithUs, IsGrantedWholeWhereTheUnitAllowsIt) {
  expect_reply(begin(1785, 0xFF), "11 FF 01 FF FF DA FE 00");
  for (std::size_t number = 1; number < 255; ++number)
    ASSERT_FALSE(feed(kData, packet(numbered(1785), number)).reply) << number;
  expect_reply(feed(kData, packet(numbered(1785), 255)), "13 F9 06 FF FF DA FE 00");
}

TEST_F(SessionWithUs, IsAbortedWhenAPacketIsMissing) {
  begin(30, 5);
  feed(kData, packet(numbered(30), 1));
  const auto step = feed(kData, packet(numbered(30), 3));
  expect_reply(step, "FF 07 FF FF FF DA FE 00");  // transport.c: 7, bad sequence number
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, kLossPacketOrder);
}

TEST_F(SessionWithUs, IsAbortedWhenNothingComesAnyMore) {
  begin(30, 5);
  now_ += 1250ms;
  const auto step = transport_.on_deadline(now_);
  expect_reply(step, "FF 03 FF FF FF DA FE 00");  // transport.c: 3, timeout
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, kLossJ1939TimedOut);
}

TEST_F(SessionWithUs, ThatIsOverIsNotAbortedWhereOurAcknowledgeWasNotHeard) {
  begin(14, 2);
  feed(kData, packet(numbered(14), 1));
  ASSERT_TRUE(feed(kData, packet(numbered(14), 2)).message);
  const auto step = transport_.on_deadline(now_ + 1h);
  EXPECT_FALSE(step.reply);
  EXPECT_FALSE(step.loss);
}

TEST_F(SessionWithUs, IsRefusedWhenTooManyRun) {
  for (unsigned source = 0; source < J1939Transport::kMaxTransfers; ++source)
    feed(0x1CEC0000 | 0x4200 | source, announcement(kRts, 30, kSoftware));
  const auto step = begin(30, 5);
  expect_reply(step, "FF 02 FF FF FF DA FE 00");  // transport.c: 2, resources
  ASSERT_TRUE(step.loss);
  EXPECT_EQ(step.loss->why, kLossTooManyTransfers);
}

TEST_F(SessionWithUs, SessionsOfOthersAndAnnouncementsGetNoReply) {
  for (const std::uint32_t to : {0x1CEC2100U, 0x1CECFA00U}) {
    EXPECT_FALSE(feed(to | 0x03, announcement(kRts, 9, kSoftware)).reply);
    const std::uint32_t data = to - 0x10000;
    EXPECT_FALSE(feed(data | 0x03, packet(numbered(9), 1)).reply);
    const auto whole = feed(data | 0x03, packet(numbered(9), 2));
    EXPECT_TRUE(whole.message);
    EXPECT_FALSE(whole.reply);
  }
  EXPECT_FALSE(feed(0x1CECFF03, announcement(kBam, 9, kSoftware)).reply);
  EXPECT_FALSE(feed(0x1CEBFF03, packet(numbered(9), 2)).reply) << "broken, and nobody to tell";
}

}  // namespace
}  // namespace sumplog
