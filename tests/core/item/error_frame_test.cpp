#include "core/item/error_frame.h"

#include <gtest/gtest.h>

#include <vector>

namespace sumplog {
namespace {

// Classes and bytes: Linux linux/can/error.h.
CanFrame error(std::uint32_t classes, const std::vector<std::uint8_t>& bytes = std::vector<std::uint8_t>(8)) {
  CanFrame frame = data_frame(at_micros(0), BusName("can0"), standard_id(classes), bytes);
  frame.kind = FrameKind::error;
  return frame;
}

TEST(ErrorFrame, TellsWhereTheAdapterStandsOnlyWhereItSaysSo) {
  EXPECT_EQ(link_state_of(error(0x100)), LinkState::up);  // CAN_ERR_RESTARTED
  EXPECT_EQ(link_state_of(error(0x40)), LinkState::bus_off);
  EXPECT_EQ(link_state_of(error(0x04)), std::nullopt);
  CanFrame data = error(0x40);
  data.kind = FrameKind::data;
  EXPECT_EQ(link_state_of(data), std::nullopt);
}

TEST(ErrorFrame, TellsTroubleOfTheBusAndOfACounterThatRose) {
  for (const std::uint32_t classes : {0x08U, 0x20U, 0x40U, 0x80U}) EXPECT_TRUE(tells_trouble(error(classes)));
  EXPECT_FALSE(tells_trouble(error(0x02)));  // CAN_ERR_LOSTARB
  EXPECT_FALSE(tells_trouble(error(0x100)));
  EXPECT_TRUE(tells_trouble(error(0x04, {0, 0x08, 0, 0, 0, 0, 0, 0})));   // CAN_ERR_CRTL_TX_WARNING
  EXPECT_FALSE(tells_trouble(error(0x04, {0, 0x01, 0, 0, 0, 0, 0, 0})));  // CAN_ERR_CRTL_RX_OVERFLOW
  EXPECT_FALSE(tells_trouble(error(0x04, {0x08})));
  CanFrame data = error(0x08);
  data.kind = FrameKind::data;
  EXPECT_FALSE(tells_trouble(data));
}

}  // namespace
}  // namespace sumplog
