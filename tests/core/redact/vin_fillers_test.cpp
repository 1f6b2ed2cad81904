#include "core/redact/vin_fillers.h"

#include <gtest/gtest.h>

#include <set>

#include "core/diagnostics/vin.h"

namespace sumplog {
namespace {

TEST(VinFillers, AreDifferentForManyVinsToo) {
  VinFillers fillers;
  std::set<std::string> all;
  for (int i = 10; i < 22; ++i) {
    const std::string vin = "7ZZBK4GT2SHLM82" + std::to_string(i);
    const std::string filler = fillers.filler(vin);
    EXPECT_EQ(filler.size(), vin.size());
    EXPECT_EQ(vin_check_digit_holds(filler), vin_check_digit_holds(vin)) << vin;  // 49 CFR 565.15(c)
    all.insert(filler);
  }
  EXPECT_EQ(all.size(), 12U);
  EXPECT_TRUE(all.contains(fillers.filler("7ZZBK4GT2SHLM8221")));
  EXPECT_EQ(fillers.filler("7ZZBK4GT2SHLM8221").substr(15), "11");
}

TEST(VinFillers, TwoCharactersAreNoEndOfAVin) {
  VinFillers fillers;
  (void)fillers.filler("7ZZBK4GT2SHLM8261");
  EXPECT_EQ(fillers.filler("261"), "X00");
  EXPECT_EQ(fillers.filler("61"), "Y0");
  EXPECT_EQ(fillers.filler("7"), "Y") << "there is no room for a number";
}

TEST(VinFillers, ASignBehindTheSmallLettersIsNoSmallLetter) {
  VinFillers fillers;
  EXPECT_EQ(fillers.filler("AB|C~"), "YY|0~");
  EXPECT_EQ(fillers.filler("ab|c~"), "yy|0~");
}

TEST(VinFillers, NoCharacterThatCountsIsNothingToCover) {
  VinFillers fillers;
  EXPECT_EQ(fillers.filler("--"), "--");
  EXPECT_TRUE(fillers.others().empty());
}

}  // namespace
}  // namespace sumplog
