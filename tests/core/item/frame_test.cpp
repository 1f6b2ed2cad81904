#include "core/item/frame.h"

#include <gtest/gtest.h>

#include <functional>
#include <string>
#include <vector>

namespace sumplog {
namespace {

TEST(BusName, AreInTheOrderOfTheirText) {
  const auto before = [](const std::string& a, const std::string& b) { return BusName(a) < BusName(b); };
  EXPECT_TRUE(before("can0", "can1"));
  EXPECT_FALSE(before("can1", "can0"));
  EXPECT_FALSE(before("can0", "can0"));
  EXPECT_TRUE(before("can", "can0"));
  // A foreign capture may have any bytes in a name: a NUL counts.
  const std::string with_nul("can\0", 4);
  EXPECT_TRUE(before("can", with_nul));
  EXPECT_FALSE(before(with_nul, "can"));
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
