#include "core/codes/fault_code.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

struct Conversion {
  std::uint16_t code;
  std::optional<std::uint8_t> failure_type;
  const char* text;
};

// 0711, 0218, C100, 9234 and 0741 as scapy (scapy.contrib.automotive.obd) prints them; the three-byte ones and the ends
// of the range from the documentation of the `uds` package (mdabrowski1990/uds, dtc.rst); C101 and 0123 by the layout.
class J2012 : public testing::TestWithParam<Conversion> {};

TEST_P(J2012, BytesAndTextAreTheSameCode) {
  const auto& [code, failure_type, text] = GetParam();
  EXPECT_EQ(text_of(J2012Code{code, failure_type}), text);
  const auto parsed = parse_j2012(text);
  ASSERT_TRUE(parsed);
  EXPECT_EQ(*parsed, (J2012Code{code, failure_type}));
}

INSTANTIATE_TEST_SUITE_P(
    Published, J2012,
    testing::Values(Conversion{0x0711, std::nullopt, "P0711"}, Conversion{0x0218, std::nullopt, "P0218"},
                    Conversion{0xC100, std::nullopt, "U0100"}, Conversion{0xC101, std::nullopt, "U0101"},
                    Conversion{0x9234, std::nullopt, "B1234"}, Conversion{0x0741, std::nullopt, "P0741"},
                    Conversion{0x0123, std::nullopt, "P0123"}, Conversion{0x5678, 0x9A, "C1678-9A"},
                    Conversion{0xA5B6, 0xC7, "B25B6-C7"}, Conversion{0xFFFF, 0xFF, "U3FFF-FF"},
                    Conversion{0x0000, 0x00, "P0000-00"}));

TEST(J2012, EveryCodeComesBackFromItsText) {
  for (unsigned code = 0; code <= 0xFFFF; ++code) {
    const J2012Code one{static_cast<std::uint16_t>(code), std::nullopt};
    ASSERT_EQ(parse_j2012(text_of(one)), one) << text_of(one);
  }
}

TEST(J2012, LowerCaseIsTaken) {
  EXPECT_EQ(parse_j2012("p07d9-1f"), (J2012Code{0x07D9, 0x1F}));
}

TEST(J2012, OtherTextIsNoCode) {
  for (const char* text : {"", "P", "P071", "P07111", "X0711", "P4711", "P07G1", "P0711-", "P0711-1",
                           "P0711-G1", "P0711-1G", "P0711+1F", "P0711-1F0", " P0711", "0711"})
    EXPECT_FALSE(parse_j2012(text)) << text;
}

// Bits and the four examples: ISO 14229-1 as in the documentation of the `uds` package, dtc.rst.
TEST(Status, EachSetBitIsSaid) {
  EXPECT_THAT(status_words(0x24), ElementsAre("pending", "test failed since last clear"));
  EXPECT_THAT(status_words(0x2F), ElementsAre("test failed", "test failed this operation cycle", "pending",
                                              "confirmed", "test failed since last clear"));
  EXPECT_THAT(status_words(0x08), ElementsAre("confirmed"));
  EXPECT_THAT(status_words(0x50),
              ElementsAre("test not completed since last clear", "test not completed this operation cycle"));
  EXPECT_THAT(status_words(0x80), ElementsAre("warning indicator requested"));
  EXPECT_THAT(status_words(0x00), IsEmpty());
}

TEST(Status, NeverTestedIsNoFault) {
  EXPECT_EQ(0x50 & code_status::kAnyFault, 0);
  EXPECT_EQ(0xFF & ~0x50, code_status::kAnyFault);
}

}  // namespace
}  // namespace sumplog
