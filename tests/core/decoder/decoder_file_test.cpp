#include <gtest/gtest.h>

#include "core/decoder/decoder.h"
namespace sumplog {
TEST(DecoderFile, ReadsASignal) {
  const auto d = parse_decoder(R"(format = 1
id = "x"
title = "t"
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
[[signal]]
name = "fluid_temperature"
unit = "degC"
did = 0x1A05
ecu = "transmission"
length = 1
scale = 1
offset = -40
valid = [-40, 213]
no_value = [ { raw = 0xFF, meaning = "not available" }, { raw = 0xFE, meaning = "error" } ]
poll_s = 0.5
origin = "invented"
checks = [
  { bytes = "00", value = -40 },
  { bytes = "FD", value = 213 },
  { bytes = "1E", value = -10 },
  { bytes = "FE", no_reading = true },
  { bytes = "FF", no_reading = true },
]
)",
                               "x/signals.toml");
  ASSERT_TRUE(d) << d.error().text();
  EXPECT_EQ(d->signals[0].line, 8);
  EXPECT_EQ(d->signals[0].checks[2].line, 23);
}
}  // namespace sumplog
