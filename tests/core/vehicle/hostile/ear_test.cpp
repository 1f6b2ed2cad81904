#include "core/vehicle/hostile/ear.h"

#include <gtest/gtest.h>

#include "core/isotp/frames.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

class EarTest : public ::testing::Test {
 protected:
  std::optional<Heard> hear(CanId id, std::string_view hex) {
    now_ += 1ms;
    return ear_.on_frame(data_frame(now_, BusName("can0"), id, isotp_words::bytes(hex)), now_);
  }
  std::uint64_t lost(const std::string& unit) { return ear_.counts().at(unit).lost(); }

  Ear ear_;
  TimePoint now_{};
};

TEST_F(EarTest, TakesSingleFrames) {
  const auto heard = hear(standard_id(0x7E9), "04621A0555CCCCCC");
  ASSERT_TRUE(heard);
  EXPECT_EQ(heard->payload, (std::vector<std::uint8_t>{0x62, 0x1A, 0x05, 0x55}));
  EXPECT_EQ(heard->way, Way::from_unit);
}

TEST_F(EarTest, JoinsAMessageOfSeveralFrames) {
  // ISO 15765-2: first frame of 10 bytes, one consecutive frame
  EXPECT_FALSE(hear(standard_id(0x7E8), "100A410566 0C0AE2"));
  const auto heard = hear(standard_id(0x7E8), "210D0046 46CCCCCC");
  ASSERT_TRUE(heard);
  EXPECT_EQ(heard->payload.size(), 10U);
  EXPECT_EQ(lost("7E8"), 0U);
}

TEST_F(EarTest, CountsWhatBelongsToNothing) {
  hear(standard_id(0x7E8), "2100000000000000");  // without a first frame
  hear(standard_id(0x7E8), "10FF410566000000");
  hear(standard_id(0x7E8), "2200000000000000");  // out of order: with the first frame
  hear(standard_id(0x7E8), "4000000000000000");  // reserved
  hear(standard_id(0x7E8), "1000FFFFFFFF4105");  // 4 GB
  EXPECT_EQ(lost("7E8"), 5U);
}

TEST_F(EarTest, TellsUnitsByTheirAddressByte) {
  // ISO 15765-2, mixed addressing
  EXPECT_TRUE(hear(extended_id(0x18CEF133), "5A023E00CCCCCCCC"));
  EXPECT_EQ(ear_.counts().count("18CEF133/5A"), 1U);
}

TEST_F(EarTest, TakesLongFramesOnlyAsTheyMustBe) {
  // ISO 15765-2: a single frame of more than eight bytes has its length in the second, and holds what no shorter one could
  const auto of_12 = [](std::string_view head) {
    return std::string(head) + std::string(24 - head.size(), '0');
  };
  EXPECT_TRUE(hear(standard_id(0x7E8), of_12("000862F190")));
  EXPECT_FALSE(hear(standard_id(0x7E8), of_12("000762F190")));  // a frame of eight has room for it
  EXPECT_FALSE(hear(standard_id(0x7E8), of_12("010862F190")));
  EXPECT_FALSE(hear(standard_id(0x7E8), of_12("000B62F190")));  // more than is there
  EXPECT_EQ(lost("7E8"), 3U);
}

TEST_F(EarTest, TakesFirstFramesOnlyAsTheyMustBe) {
  hear(standard_id(0x7DF), "100A22F190F18A00");  // to everybody
  hear(standard_id(0x7E8), "100A22F190F18A");    // seven bytes
  hear(standard_id(0x7E8), "100722F190F18A00");  // would be a single frame
  EXPECT_EQ(lost("7DF"), 1U);
  EXPECT_EQ(lost("7E8"), 2U);
  hear(standard_id(0x7E9),
       "100A22F190F18A0000000000");  // of twelve bytes: a single frame of twelve holds ten
  EXPECT_EQ(lost("7E9"), 1U);
  hear(standard_id(0x7E9), "100B22F190F18A0000000000");
  EXPECT_EQ(lost("7E9"), 1U);
  EXPECT_TRUE(hear(standard_id(0x7E9), "2100"));
}

TEST_F(EarTest, TakesConsecutiveFramesOnlyOfTheLengthOfTheFirst) {
  hear(standard_id(0x7E8), "101462F190000000");                        // 20 bytes: 6, 7 and 7
  EXPECT_FALSE(hear(standard_id(0x7E8), "210000000000"));              // too short
  EXPECT_FALSE(hear(standard_id(0x7E8), "210000000000000000000000"));  // longer than the first
  EXPECT_EQ(lost("7E8"), 2U);
  EXPECT_FALSE(hear(standard_id(0x7E8), "2100000000000000"));
  EXPECT_TRUE(hear(standard_id(0x7E8), "2200000000000000"));
  EXPECT_EQ(lost("7E8"), 2U);
}

TEST(HostileEar, TellsWaysByTheIdentifier) {
  // ISO 15765-4, ISO 15765-2 (mixed addressing)
  EXPECT_EQ(way_of(standard_id(0x7EF)), Way::from_unit);
  EXPECT_EQ(way_of(standard_id(0x7F0)), Way::none);
  EXPECT_EQ(way_of(extended_id(0x18DB33F1)), Way::to_all);
  EXPECT_EQ(way_of(extended_id(0x18DB33F2)), Way::none);
  EXPECT_EQ(way_of(extended_id(0x18CD33F1)), Way::to_all);
  EXPECT_EQ(way_of(extended_id(0x18CE33F1)), Way::to_unit);
  EXPECT_EQ(way_of(extended_id(0x18DAF1F1)), Way::none);
  EXPECT_EQ(way_of(extended_id(0x18DA1018)), Way::none);
  EXPECT_TRUE(has_address_byte(extended_id(0x18CD33F1)));
  EXPECT_TRUE(has_address_byte(extended_id(0x18CEF133)));
  EXPECT_FALSE(has_address_byte(extended_id(0x18DAF133)));
  EXPECT_FALSE(has_address_byte({0x18CEF133, false}));
}

TEST(HostileEar, KnowsWhoMayAnswerWhom) {
  // ISO 15765-4
  EXPECT_TRUE(may_answer(standard_id(0x7E1), standard_id(0x7E9)));
  EXPECT_FALSE(may_answer(standard_id(0x7E1), standard_id(0x7E8)));
  EXPECT_TRUE(may_answer(standard_id(0x7DF), standard_id(0x7EF)));
  EXPECT_TRUE(may_answer(extended_id(0x18DA18F1), extended_id(0x18DAF118)));
  EXPECT_FALSE(may_answer(extended_id(0x18DA18F1), extended_id(0x18DAF110)));
  EXPECT_FALSE(may_answer(standard_id(0x7DF), extended_id(0x18DAF110)));
  EXPECT_FALSE(may_answer(extended_id(0x18DA18F1), extended_id(0x18CEF118)));
  EXPECT_FALSE(may_answer(standard_id(0x7E0), standard_id(0x7E0)));  // no unit speaks there
  EXPECT_FALSE(may_answer(standard_id(0x7E8), standard_id(0x7E8)));  // nobody asks there
}

}  // namespace
}  // namespace sumplog::hostile
