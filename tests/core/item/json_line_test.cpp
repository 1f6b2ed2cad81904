#include "core/item/json_line.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

namespace sumplog {
namespace {

using nlohmann::json;

std::string with_number(double value, int decimals) {
  JsonLine line;
  return line.number("v", value, decimals).take();
}

// --- fixed decimals ---

TEST(FixedDecimals, AreNeitherShortenedNorWrittenWithAnExponent) {
  EXPECT_EQ(fixed(40.1, 1), "40.1");
  EXPECT_EQ(fixed(40, 2), "40.00");
  EXPECT_EQ(fixed(1e-7, 2), "0.00");
  EXPECT_EQ(fixed(1e15, 0), "1000000000000000");
  EXPECT_EQ(fixed(-273.15, 2), "-273.15");
}

TEST(FixedDecimals, MinusZeroPrintsAsZero) {
  EXPECT_EQ(fixed(-0.0, 0), "0");
  EXPECT_EQ(fixed(-0.0, 2), "0.00");
  EXPECT_EQ(fixed(-0.004, 2), "0.00");
  EXPECT_EQ(fixed(-0.4, 0), "0");
}

TEST(FixedDecimals, ASmallNegativeNumberKeepsItsSign) {
  EXPECT_EQ(fixed(-0.006, 2), "-0.01");
  EXPECT_EQ(fixed(-10, 1), "-10.0");
}

TEST(FixedDecimals, RoundTheExactBinaryValueAndTiesToEven) {
  // IEEE 754: 0.125 and 0.375 are exact, 2.675 is a little less than it looks.
  EXPECT_EQ(fixed(0.125, 2), "0.12");
  EXPECT_EQ(fixed(0.375, 2), "0.38");
  EXPECT_EQ(fixed(2.675, 2), "2.67");
  EXPECT_EQ(fixed(9.995, 1), "10.0");
}

TEST(FixedDecimals, HoldTheLargestAndTheSmallestDouble) {
  EXPECT_EQ(std::stod(fixed(std::numeric_limits<double>::max(), 9)), std::numeric_limits<double>::max());
  EXPECT_EQ(fixed(std::numeric_limits<double>::denorm_min(), 9), "0.000000000");
  EXPECT_EQ(std::stod(fixed(std::numeric_limits<double>::lowest(), 0)),
            std::numeric_limits<double>::lowest());
}

TEST(FixedDecimals, AValueThatIsNotANumberIsABug) {
  EXPECT_DEBUG_DEATH((void)with_number(std::numeric_limits<double>::quiet_NaN(), 1), "isfinite");
  EXPECT_DEBUG_DEATH((void)with_number(std::numeric_limits<double>::infinity(), 1), "isfinite");
}

// --- seconds ---

TEST(SecondsText, HasSixDecimals) {
  EXPECT_EQ(seconds_text(at_micros(1700000000123456)), "1700000000.123456");
  EXPECT_EQ(seconds_text(at_micros(0)), "0.000000");
  EXPECT_EQ(seconds_text(at_micros(1)), "0.000001");
  EXPECT_EQ(seconds_text(at_micros(5000000)), "5.000000");
}

TEST(SecondsText, OfATimeBeforeTheEpochHasItsSignInFrontOfTheWhole) {
  EXPECT_EQ(seconds_text(at_micros(-1)), "-0.000001");
  EXPECT_EQ(seconds_text(at_micros(-1500000)), "-1.500000");
}

TEST(SecondsText, HoldsEveryTimeThatTheClockHolds) {
  EXPECT_EQ(seconds_text(at_micros(std::numeric_limits<std::int64_t>::max())), "9223372036854.775807");
  EXPECT_EQ(seconds_text(at_micros(std::numeric_limits<std::int64_t>::min())), "-9223372036854.775808");
}

// --- strings ---

TEST(JsonString, QuotesBackslashesAndControlCharactersAreEscaped) {
  EXPECT_EQ(json_string("a\"b\\c"), R"("a\"b\\c")");
  EXPECT_EQ(json_string("a\nb\tc\rd"), R"("a\nb\tc\rd")");
  EXPECT_EQ(json_string(std::string_view("\0\x1F\x7F", 3)), R"("\u0000\u001F\u007F")");
  EXPECT_EQ(json_string(""), R"("")");
  EXPECT_EQ(json_string("a/b"), R"("a/b")");
}

TEST(JsonString, KeepsCharactersOfEveryLength) {
  const std::string text = "°C é € 😀";
  EXPECT_EQ(json_string(text), '"' + text + '"');
}

TEST(JsonString, BytesThatAreNotUtf8BecomeTheReplacementCharacter) {
  const std::string instead = "\xEF\xBF\xBD";
  const auto bad = [&](std::string_view bytes, std::size_t replaced) {
    std::string expected = "\"a";
    for (std::size_t i = 0; i < replaced; ++i) expected += instead;
    return json_string("a" + std::string(bytes) + "z") == expected + "z\"";
  };
  // Unicode 15, table 3-7: what it does not list is not UTF-8.
  EXPECT_TRUE(bad("\x80", 1)) << "a tail byte alone";
  EXPECT_TRUE(bad("\xC0\xAF", 2)) << "overlong solidus";
  EXPECT_TRUE(bad("\xC1\xBF", 2)) << "overlong";
  EXPECT_TRUE(bad("\xE0\x9F\xBF", 3)) << "overlong";
  EXPECT_TRUE(bad("\xED\xA0\x80", 3)) << "a surrogate";
  EXPECT_TRUE(bad("\xF0\x8F\xBF\xBF", 4)) << "overlong";
  EXPECT_TRUE(bad("\xF4\x90\x80\x80", 4)) << "above U+10FFFF";
  EXPECT_TRUE(bad("\xF5\x80\x80\x80", 4)) << "no such lead";
  EXPECT_TRUE(bad("\xFF", 1));
  EXPECT_TRUE(bad("\xE2\x82", 2)) << "cut short by another character";
}

TEST(JsonString, ACharacterThatTheEndOfTheTextCutsIsReplaced) {
  EXPECT_EQ(json_string("\xC3"), "\"\xEF\xBF\xBD\"");
  EXPECT_EQ(json_string("\xF0\x9F\x98"), "\"\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\"");
}

TEST(JsonString, TheEdgesOfEveryLengthAreKept) {
  for (const std::string text : {"\x7E", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF",
                                 "\xEE\x80\x80", "\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"})
    EXPECT_EQ(json_string(text), '"' + text + '"');
}

TEST(JsonString, RandomBytesAlwaysGiveJsonThatAnotherParserReads) {
  std::mt19937 random(1);
  std::uniform_int_distribution<int> byte(0, 255);
  for (int round = 0; round < 5000; ++round) {
    std::string text;
    for (int i = 0; i < 12; ++i) text += static_cast<char>(byte(random));
    const json read = json::parse(json_string(text), nullptr, false);  // nlohmann refuses invalid UTF-8
    ASSERT_TRUE(read.is_string());
    EXPECT_EQ(json_string(read.get<std::string>()), json_string(text));
  }
}

// --- the line ---

TEST(JsonLine, KeepsTheOrderOfTheCalls) {
  JsonLine line;
  line.time("t", at_micros(1500000))
      .text("kind", "x")
      .number("n", 1.25, 2)
      .integer("i", -7)
      .flag("yes", true)
      .flag("no", false)
      .texts("list", {"a", "b\""})
      .raw("raw", "[1,null]");
  EXPECT_EQ(
      line.take(),
      R"({"t":1.500000,"kind":"x","n":1.25,"i":-7,"yes":true,"no":false,"list":["a","b\""],"raw":[1,null]})");
}

TEST(JsonLine, IsEmptyAfterItWasTaken) {
  JsonLine line;
  EXPECT_EQ(line.text("a", "1").take(), R"({"a":"1"})");
  EXPECT_EQ(line.text("b", "2").take(), R"({"b":"2"})");
  EXPECT_EQ(line.take(), "{}");
}

TEST(JsonLine, EscapesKeysToo) {
  JsonLine line;
  EXPECT_EQ(line.text("a\"b\n", "1").take(), R"({"a\"b\n":"1"})");
}

TEST(JsonLine, WritesTheLargestIntegers) {
  JsonLine line;
  EXPECT_EQ(line.integer("min", std::numeric_limits<std::int64_t>::min()).take(),
            R"({"min":-9223372036854775808})");
  EXPECT_EQ(line.integer("max", std::numeric_limits<std::int64_t>::max()).take(),
            R"({"max":9223372036854775807})");
}

TEST(JsonLine, AnEmptyListIsAList) {
  JsonLine line;
  EXPECT_EQ(line.texts("list", {}).take(), R"({"list":[]})");
}

TEST(HexText, IsUpperCaseWithoutSeparators) {
  const std::uint8_t bytes[] = {0x00, 0x0F, 0xA5, 0xFF};
  EXPECT_EQ(hex_text(bytes, 4), "000FA5FF");
  EXPECT_EQ(hex_text(bytes, 0), "");
}

}  // namespace
}  // namespace sumplog
