#include "core/asker/sweep_range.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace sumplog {
namespace {

using ::testing::HasSubstr;

std::string read(const std::string& text) {
  const auto range = parse_sweep_range(text);
  return range ? text_of(*range) : "refused: " + range.error().text();
}

TEST(SweepRangeTest, FourDigitsAreDataIdentifiersAndTwoAreLocalOnes) {
  const auto data = parse_sweep_range("7E1:1A00-1AFF");
  ASSERT_TRUE(data);
  EXPECT_EQ(*data, (SweepRange{standard_id(0x7E1), std::nullopt, 0x22, 0x1A00, 0x1AFF}));
  EXPECT_EQ(data->size(), 256U);
  const auto local = parse_sweep_range("7e0:00-ff");
  ASSERT_TRUE(local);
  EXPECT_EQ(*local, (SweepRange{standard_id(0x7E0), std::nullopt, 0x21, 0x00, 0xFF}));
}

TEST(SweepRangeTest, OneIdentifierIsARange) {
  EXPECT_EQ(read("7E1:1A05"), "7E1:1A05-1A05");
}

TEST(SweepRangeTest, UnitsWithLongIdentifiersAndAddressBytesAreNamedAsEverywhere) {
  EXPECT_EQ(read("18DA18F1:1A00-1A0F"), "18DA18F1:1A00-1A0F");
  EXPECT_EQ(read("6F1/12:1A00-1A0F"), "6F1/12:1A00-1A0F");
  const auto all = parse_sweep_range("7E1:0000-FFFF");
  ASSERT_TRUE(all);
  EXPECT_EQ(all->size(), 65536U);
}

TEST(SweepRangeTest, SeveralAreToldInTheirOrder) {
  EXPECT_EQ(text_of(std::vector{*parse_sweep_range("7E1:1A00-1A0F"), *parse_sweep_range("7E0:00-0F")}),
            "7E1:1A00-1A0F, 7E0:00-0F");
}

TEST(SweepRangeTest, WhatIsNoRangeIsRefusedWithAnExample) {
  for (const char* text : {"", "7E1", "7E1:", ":1A00-1AFF", "7E1:1A0-1AF", "7E1:1A00-FF", "7E1:1A00-",
                           "7E1:xx-yy", "7E1:1A00-1AFF-1B00", "7E1:1A0x-1AFF", "7Ex:1A00", "7E11:1A00-1AFF",
                           "FFF:1A00-1AFF", "6F1/:1A00", "7E1:+1A0-1AFF", "7E1 :1A00"})
    EXPECT_THAT(read(text), HasSubstr("for example 7E1:1A00-1AFF, or 7E1:00-FF for local identifiers"))
        << text;
  EXPECT_THAT(read("7E1:1AFF-1A00"), HasSubstr("ends before it begins"));
}

TEST(SweepRangeTest, NobodySweepsAllUnitsAtOnceNorTheVoiceOfAUnit) {
  for (const char* text :
       {"7DF:1A00-1AFF", "7E8:1A00-1AFF", "123:1A00-1AFF", "18DB33F1:1A00-1AFF", "18EAFFF9:1A00-1AFF"})
    EXPECT_THAT(read(text), HasSubstr("on which no single unit is asked")) << text;
}

}  // namespace
}  // namespace sumplog
