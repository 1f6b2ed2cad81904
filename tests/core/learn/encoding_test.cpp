#include "core/learn/encoding.h"

#include <gtest/gtest.h>

#include <cmath>

namespace sumplog {
namespace {

TEST(EncodingText, IsAFormulaInTheUnitOfItsSteps) {
  EXPECT_EQ(text_of(Encoding{1, -40}), "raw - 40 °C");
  EXPECT_EQ(text_of(Encoding{0.5, 0}), "raw * 0.5 °C");
  EXPECT_EQ(text_of(Encoding{0.1, 7.25}), "raw * 0.1 + 7.25 °C");
  EXPECT_EQ(text_of(Encoding{1, 0}), "raw °C");
  // 40 °F are 4.444 °C, and a step of 1 °F is 5/9 K.
  EXPECT_EQ(text_of(Encoding{5.0 / 9, -160.0 / 9, true}), "raw °F");
  EXPECT_EQ(text_of(Encoding{5.0 / 9, -360.0 / 9, true}), "raw - 40 °F");
}

TEST(UsualEncodings, OfEachWidthLeaveRoomForThoseThatAreNotListed) {
  for (const int bits : {8, 12, 16})
    for (const bool is_signed : {false, true}) {
      double sum = 0;
      for (const UsualEncoding& one : usual_encodings(bits, is_signed)) sum += one.share;
      EXPECT_NEAR(sum, 0.98, 1e-9) << bits << (is_signed ? " signed" : "");
    }
}

/// A search asks only how far a field reaches above.
TEST(UsualEncodings, BeginAtTheIcePointOrBelow) {
  for (const int bits : {8, 9, 12, 16})
    for (const bool is_signed : {false, true})
      for (const UsualEncoding& one : usual_encodings(bits, is_signed))
        EXPECT_LE(one.encoding.value(is_signed ? -std::exp2(bits - 1) : 0), 0)
            << text_of(one.encoding) << bits;
}

}  // namespace
}  // namespace sumplog
