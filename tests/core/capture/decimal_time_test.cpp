#include "core/capture/decimal_time.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(DecimalMicros, ReadsDecimalFractionsAndTruncatesThem) {
  EXPECT_EQ(decimal_micros("0"), 0);
  EXPECT_EQ(decimal_micros("7"), 7000000);
  EXPECT_EQ(decimal_micros("13.258199"), 13258199);
  EXPECT_EQ(decimal_micros("0.5"), 500000);
  EXPECT_EQ(decimal_micros(".5"), 500000);
  EXPECT_EQ(decimal_micros("5."), 5000000);
  EXPECT_EQ(decimal_micros("0.0000019"), 1);
  EXPECT_EQ(decimal_micros("0.999999999999999999999"), 999999);
  EXPECT_EQ(decimal_micros("-0.25"), -250000);
  EXPECT_EQ(decimal_micros("+2"), 2000000);
  EXPECT_EQ(decimal_micros("9223372036853.999999"), 9223372036853999999);
}

TEST(DecimalMicros, RefusesWhatIsNoNumberOrDoesNotFit) {
  for (const char* text : {"", "-", ".", "+.", "1e3", "1,5", "1.2.3", " 1", "1 ", "0x10", "--1", "nan",
                           "9223372036855.0", "99999999999999999999999999999999999"})
    EXPECT_EQ(decimal_micros(text), std::nullopt) << text;
}

}  // namespace
}  // namespace sumplog
