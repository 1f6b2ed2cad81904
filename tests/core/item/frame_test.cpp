#include "core/item/frame.h"

#include <gtest/gtest.h>

#include <functional>
#include <vector>

namespace sumplog {
namespace {

TEST(BusName, AreInTheOrderOfTheirText) {
  EXPECT_TRUE(BusName("can0") < BusName("can1"));
  EXPECT_FALSE(BusName("can1") < BusName("can0"));
  EXPECT_FALSE(BusName("can0") < BusName("can0"));
  EXPECT_TRUE(BusName("can") < BusName("can0"));
  // A foreign capture may have any bytes in a name: a NUL counts.
  EXPECT_TRUE(BusName("can") < BusName(std::string_view("can\0", 4)));
}

TEST(CanFrame, IsTheSameOnlyWhereNothingDiffers) {
  const CanFrame one =
      data_frame(at_micros(1), BusName("can0"), standard_id(0x7E8), std::vector<std::uint8_t>{1, 2});
  EXPECT_EQ(one, one);
  const std::vector<std::function<void(CanFrame&)>> changes{[](CanFrame& f) { f.at = at_micros(2); },
                                                            [](CanFrame& f) { f.bus = BusName("can1"); },
                                                            [](CanFrame& f) { f.id = extended_id(0x7E8); },
                                                            [](CanFrame& f) { f.kind = FrameKind::remote; },
                                                            [](CanFrame& f) { f.fd = true; },
                                                            [](CanFrame& f) { f.bit_rate_switch = true; },
                                                            [](CanFrame& f) { f.error_state = true; },
                                                            [](CanFrame& f) { f.length = 1; },
                                                            [](CanFrame& f) { f.bytes[1] = 3; }};
  for (std::size_t i = 0; i < changes.size(); ++i) {
    CanFrame other = one;
    changes[i](other);
    EXPECT_FALSE(one == other) << i;
  }
  CanFrame unused = one;
  unused.bytes[2] = 9;  // behind its length
  EXPECT_EQ(one, unused);
}

}  // namespace
}  // namespace sumplog
