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

TEST(HostileEar, KnowsWhoMayAnswerWhom) {
  // ISO 15765-4
  EXPECT_TRUE(may_answer(standard_id(0x7E1), standard_id(0x7E9)));
  EXPECT_FALSE(may_answer(standard_id(0x7E1), standard_id(0x7E8)));
  EXPECT_TRUE(may_answer(standard_id(0x7DF), standard_id(0x7EF)));
  EXPECT_TRUE(may_answer(extended_id(0x18DA18F1), extended_id(0x18DAF118)));
  EXPECT_FALSE(may_answer(extended_id(0x18DA18F1), extended_id(0x18DAF110)));
  EXPECT_FALSE(may_answer(standard_id(0x7DF), extended_id(0x18DAF110)));
}

}  // namespace
}  // namespace sumplog::hostile
