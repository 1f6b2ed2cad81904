#include "core/item/compared_form.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(ComparedForm, IsWhatIsLeftOfATextWithoutCaseAndSigns) {
  EXPECT_EQ(compared_form("ab-C d/9"), "ABCD9");
  EXPECT_EQ(compared_form("{|}~ [\\]^_` :;<=>?@ !\"#$%&'()*+,-./"), "");
}

TEST(ComparedForm, SmallAndCapitalLettersOfThreeAlphabetsAreTheSame) {
  for (const auto& [small, capital] : {std::pair{"äöü", "ÄÖÜ"}, {"αβγ", "ΑΒΓ"}, {"абв", "АБВ"}})
    EXPECT_EQ(compared_form(small), compared_form(capital)) << small;
  EXPECT_NE(compared_form("ä"), compared_form("ö"));
}

TEST(ComparedForm, WhatHasNoOtherCaseStaysAsItIs) {
  // The byte that means "ä" behind C3 means something else behind another byte, and BF is past the letters.
  for (const char* const text : {"\xC4\xA4", "\xC3\xBF", "\xC3\x97", "日本"})
    EXPECT_EQ(compared_form(text), text);
}

}  // namespace
}  // namespace sumplog
