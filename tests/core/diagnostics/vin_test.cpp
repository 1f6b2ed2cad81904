#include "core/diagnostics/vin.h"

#include <gtest/gtest.h>

#include <string>

namespace sumplog {
namespace {

// Worked examples of the check digit rule in 49 CFR 565.15(c): weighted sums 351 = 31 * 11 + 10 and 89 = 8 *
// 11 + 1.
constexpr std::string_view kTenIsX = "1M8GDM9AXKP042788";
constexpr std::string_view kAllOnes = "11111111111111111";

TEST(Vin, TheWorkedExamplesHold) {
  EXPECT_TRUE(is_vin(kTenIsX));
  EXPECT_TRUE(vin_check_digit_holds(kTenIsX));
  EXPECT_TRUE(is_vin(kAllOnes));
  EXPECT_TRUE(vin_check_digit_holds(kAllOnes));
}

TEST(Vin, EveryOtherCheckDigitFails) {
  for (const char digit : std::string("0123456789ABCDEFX")) {
    std::string vin(kTenIsX);
    vin[8] = digit;
    EXPECT_EQ(vin_check_digit_holds(vin), digit == 'X') << vin;
  }
}

TEST(Vin, AChangedCharacterIsNoticedAtEveryOtherPlace) {
  for (std::size_t place = 0; place < kAllOnes.size(); ++place) {
    if (place == 8) continue;
    std::string vin(kAllOnes);
    vin[place] = '2';
    EXPECT_FALSE(vin_check_digit_holds(vin)) << vin;
  }
}

TEST(Vin, LettersHaveTheValuesOfTheRule) {
  // 49 CFR 565.15, table III. In front, weight 8: the check digit is 8 * value of the letter, mod 11.
  const std::pair<std::string_view, int> kValues[] = {
      {"AJ", 1}, {"BKS", 2}, {"CLT", 3}, {"DMU", 4}, {"ENV", 5}, {"FW", 6}, {"GPX", 7}, {"HY", 8}, {"RZ", 9}};
  for (const auto& [letters, value] : kValues) {
    for (const char letter : letters) {
      std::string vin(17, '0');
      vin[0] = letter;
      const int rest = 8 * value % 11;
      vin[8] = rest == 10 ? 'X' : static_cast<char>('0' + rest);
      EXPECT_TRUE(vin_check_digit_holds(vin)) << vin;
    }
  }
}

TEST(Vin, HasSeventeenCharacters) {
  EXPECT_FALSE(is_vin(""));
  EXPECT_FALSE(is_vin(kAllOnes.substr(1)));
  EXPECT_FALSE(is_vin(std::string(18, '1')));
  EXPECT_FALSE(vin_check_digit_holds(std::string(18, '1')));
}

TEST(Vin, HasNoLetterThatLooksLikeADigitAndNoSmallOne) {
  // ISO 3779: I, O and Q are not used.
  for (const char c : {'I', 'O', 'Q', 'a', ' ', '-', '\0', '\x80'}) {
    std::string vin(kAllOnes);
    vin[5] = c;
    EXPECT_FALSE(is_vin(vin)) << c;
    EXPECT_FALSE(vin_check_digit_holds(vin)) << c;
  }
}

TEST(Vin, AnEuropeanOneNeedNotHaveACheckDigit) {
  // Common practice of European makers, no source: Z fills the places that say nothing. The number is
  // invented.
  EXPECT_TRUE(is_vin("XXXZZZ00ZXX000001"));
  EXPECT_FALSE(vin_check_digit_holds("XXXZZZ00ZXX000001"));
}

}  // namespace
}  // namespace sumplog
