#include "core/job/entry_fields.h"

#include <gtest/gtest.h>

#include <chrono>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

Entry entry(const std::string& fields) {
  return {at_micros(1700000000000000), "1", "plug_in", fields};
}

TEST(EntryFields, AreReadByTheirKind) {
  const Entry one = entry(R"({"value_c":38.5,"place":"pan","holds":false})");
  EXPECT_EQ(number_field(one, "value_c"), 38.5);
  EXPECT_EQ(text_field(one, "place"), "pan");
  EXPECT_EQ(flag_field(one, "holds"), false);
  EXPECT_FALSE(number_field(one, "place"));
  EXPECT_FALSE(text_field(one, "value_c"));
  EXPECT_FALSE(flag_field(one, "value_c"));
  EXPECT_FALSE(number_field(one, "other"));
}

TEST(EntryFields, WhatIsNoObjectHasNone) {
  for (const char* text : {"", "no json", "[1]", "3", "null", "{\"ago_s\":"})
    EXPECT_FALSE(number_field(entry(text), "ago_s")) << text;
}

TEST(EntryFields, SayHowLongAgoItHappened) {
  const Entry late = entry(R"({"ago_s":40})");
  EXPECT_EQ(said_time(late), late.at - 40s);
  EXPECT_EQ(said_time(entry(R"({"ago_s":0})")), late.at);
  EXPECT_EQ(said_time(entry(R"({"ago_s":600})")), late.at - 600s);
}

TEST(EntryFields, ATimeThatCannotBeIsNotUsed) {
  for (const char* text :
       {"{}", R"({"ago_s":-1})", R"({"ago_s":601})", R"({"ago_s":1e300})", R"({"ago_s":"40"})"})
    EXPECT_FALSE(said_time(entry(text))) << text;
}

TEST(EntryFields, ANumberThatIsTooLargeForOneIsNoField) {
  for (const char* const number : {"1e999", "-1e999", "NaN", "Infinity"})
    EXPECT_FALSE(number_field(Entry{{}, "1", "x", std::string(R"({"a":)") + number + "}"}, "a")) << number;
}

TEST(EntryFields, ATimeIsFromNothingToADay) {
  const auto seconds = [](const char* number) {
    return seconds_field(Entry{{}, "1", "x", std::string(R"({"s":)") + number + "}"}, "s");
  };
  EXPECT_EQ(seconds("0"), Duration{0});
  EXPECT_EQ(seconds("2.5"), Duration{2'500'000});
  EXPECT_EQ(seconds("86400"), Duration{std::chrono::hours{24}});
  for (const char* const number : {"-1", "86401", "\"2\""}) EXPECT_FALSE(seconds(number)) << number;
}

}  // namespace
}  // namespace sumplog
