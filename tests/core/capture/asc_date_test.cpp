#include "core/capture/asc_date.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

std::int64_t micros_of(std::string_view text) {
  const auto at = parse_asc_date(text);
  return at ? micros(*at) : -1;
}

// 1700000000 is 2023-11-14 22:13:20 UTC (date -u -d @1700000000).
constexpr std::int64_t kThen = 1700000000000000;

TEST(AscDate, TwelveAndTwentyFourHoursMeanTheSame) {
  EXPECT_EQ(micros_of("Tue Nov 14 10:13:20.000 pm 2023"), kThen);
  EXPECT_EQ(micros_of("Tue Nov 14 22:13:20.000 2023"), kThen);
  EXPECT_EQ(micros_of("Tue Nov 14 22:13:20 2023"), kThen);  // ctime(3), as log2asc writes it
  EXPECT_EQ(micros_of("Tue Nov 14 10:13:20 PM 2023"), kThen);
}

TEST(AscDate, TheFractionIsDecimal) {
  EXPECT_EQ(micros_of("Tue Nov 14 22:13:20.48 2023"), kThen + 480000);
  EXPECT_EQ(micros_of("Tue Nov 14 10:13:20.4804805 pm 2023"), kThen + 480480);
}

TEST(AscDate, NoonAndMidnightAreTwelve) {
  EXPECT_EQ(micros_of("Thu Jan 1 12:00:00 am 1970"), 0);
  EXPECT_EQ(micros_of("Thu Jan 1 12:00:00 pm 1970"), 43200000000);
  EXPECT_EQ(micros_of("Thu Jan 01 11:59:59 pm 1970"), 86399000000);
}

TEST(AscDate, EnglishAndGermanMonthsAreKnownAndTheWeekdayIsAnyWord) {
  // python-can 4.1 asc.py, month_map
  const std::int64_t day = 86400000000;
  EXPECT_EQ(micros_of("Son M\xC3\xA4r 1 00:00:00 1970"), 59 * day);
  EXPECT_EQ(micros_of("Son M\xE4r 1 00:00:00 1970"), 59 * day) << "Latin-1";
  EXPECT_EQ(micros_of("Fre Mai 1 00:00:00 1970"), 120 * day);
  EXPECT_EQ(micros_of("Don Okt 1 00:00:00 1970"), 273 * day);
  EXPECT_EQ(micros_of("Die Dez 1 00:00:00 1970"), 334 * day);
  EXPECT_EQ(micros_of("xyz dec 1 00:00:00 1970"), 334 * day);
  EXPECT_EQ(micros_of("Sam September 30 00:00:00 1970"), 272 * day);
}

TEST(AscDate, WhatIsNoDateIsRefused) {
  for (const char* text : {"",
                           "Tue",
                           "Tue Nov",
                           "Tue Nov 14",
                           "Tue Nov 14 22:13:20",
                           "Tue Nvo 14 22:13:20 2023",
                           "Tue Nov 31 22:13:20 2023",
                           "Tue Nov 14 24:00:00 2023",
                           "Tue Nov 14 22:60:00 2023",
                           "Tue Nov 14 22:13:61 2023",
                           "Tue Nov 14 22:13 2023",
                           "Tue Nov 14 13:13:20 pm 2023",
                           "Tue Nov 14 0:13:20 am 2023",
                           "Tue Nov 14 22:13:20 23",
                           "Tue Nov x 22:13:20 2023",
                           "Tue Nov 14 22:13:-1 2023",
                           "Tue Nov 14 22:13:20 99999",
                           "Tue Nov 14 22:13:20 1699",
                           "Tue Nov 14th 22:13:20 2023",
                           "Tue Nov 14 x:13:20 2023",
                           "Tue Nov 14 22:x:20 2023",
                           "Tue Nov 14 22:13:x 2023"})
    EXPECT_EQ(parse_asc_date(text), std::nullopt) << text;
}

TEST(AscDate, TheTextOfATimeIsReadBackAsThatMillisecond) {
  EXPECT_EQ(asc_date_text(at_micros(kThen)), "Tue Nov 14 10:13:20.000 pm 2023");
  EXPECT_EQ(asc_date_text(at_micros(0)), "Thu Jan 01 12:00:00.000 am 1970");
  EXPECT_EQ(asc_date_text(at_micros(951782400000000)), "Tue Feb 29 12:00:00.000 am 2000");
  EXPECT_EQ(asc_date_text(at_micros(-1700000091000000)), "Fri Feb 18 01:45:09.000 am 1916");
  for (std::int64_t us = micros(kEarliestTime); us <= micros(kLatestTime); us += 86399999000000 / 7) {
    const std::string text = asc_date_text(at_micros(us));
    EXPECT_EQ(micros_of(text), us / 1000 * 1000) << text;
  }
}

}  // namespace
}  // namespace sumplog
