#include "core/redact/secret_texts.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

TEST(SecretTexts, AWordOfANameCountsFromFourLettersOn) {
  SecretTexts secrets;
  secrets.add_name("Anna Pan");
  EXPECT_EQ(secrets.covered("paid by Anna"), "paid by xxxx");
  EXPECT_EQ(secrets.covered("the pan was dented"), "the pan was dented") << "a part, and three letters";
  EXPECT_EQ(secrets.covered("paid by ANNA-PAN"), "paid by xxxx-xxx") << "the whole name";
}

TEST(SecretTexts, APlateIsFoundHoweverItIsWritten) {
  SecretTexts secrets;
  secrets.add("XX-AB 123");
  EXPECT_EQ(secrets.covered("of xxab123."), "of xxxxxxx.");
  EXPECT_EQ(secrets.covered("of XX AB 123."), "of xx xx xxx.");
  EXPECT_EQ(secrets.covered("of xx-ab.123."), "of xx-xx.xxx.");
  EXPECT_EQ(secrets.covered("XX-AB 124"), "XX-AB 124");
}

}  // namespace
}  // namespace sumplog
