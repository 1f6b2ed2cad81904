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

TEST(SecretTexts, AShortPlateIsNoPartOfAWord) {
  SecretTexts secrets;
  secrets.add("AB 1");
  EXPECT_EQ(secrets.covered("ab1 came in"), "xxx came in");
  EXPECT_EQ(secrets.covered("in came AB-1"), "in came xx-x");
  EXPECT_EQ(secrets.covered("(AB 1)"), "(xx x)");
  EXPECT_EQ(secrets.covered("CAB 1"), "CAB 1");
  EXPECT_EQ(secrets.covered("AB 12"), "AB 12");
}

TEST(SecretTexts, DigitsAloneAndOneWordAreNotUnmistakable) {
  // What a decoder says of bytes must not be spoilt by a plate "12345" or a customer "Signal".
  SecretTexts secrets;
  secrets.add("12345");
  secrets.add_name("Exampler");
  secrets.add_name("Wilma Borchert");
  secrets.add_name("An Li");
  EXPECT_EQ(secrets.covered_unmistakable("12345, Exampler, Wilma Borchert, an li"),
            "12345, Exampler, xxxxx xxxxxxxx, an li");
  EXPECT_EQ(secrets.covered("12345, Exampler, An Li"), "xxxxx, xxxxxxxx, xx xx");
}

TEST(SecretTexts, OneCharacterIsNoSecret) {
  SecretTexts secrets;
  secrets.add("7");
  secrets.add_name("K.");
  EXPECT_EQ(secrets.covered("7 bolts, K. did it"), "7 bolts, K. did it");
}

}  // namespace
}  // namespace sumplog
