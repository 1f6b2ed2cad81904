#include "core/drawing/shown_degrees.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

std::string in_f(const char* phrase) {
  return degrees_of_phrase(phrase, true);
}

TEST(DegreesOfAPhrase, APointADifferenceAndARateAreConvertedDifferently) {
  EXPECT_EQ(in_f("Let fluid cool below 30 °C and coolant below 50 °C, then begin again."),
            "Let fluid cool below 86 °F and coolant below 122 °F, then begin again.");
  EXPECT_EQ(in_f("the second thermometer differed by 5 °C"), "the second thermometer differed by 9 °F");
  EXPECT_EQ(in_f("plug in at 50 °C, 5 °C above the window"), "plug in at 122 °F, 9 °F above the window");
  EXPECT_EQ(in_f("keeps 10 °C from the coolant while that moves"),
            "keeps 18 °F from the coolant while that moves");
  EXPECT_EQ(in_f("2.2 °C/min"), "4.0 °F/min");
}

TEST(DegreesOfAPhrase, DecimalsSignsAndRangesStay) {
  EXPECT_EQ(in_f("out at 36.0 °C, in at 39.5 °C"), "out at 96.8 °F, in at 103.1 °F");
  EXPECT_EQ(in_f("-40 °C (-40 °C)"), "-40 °F (-40 °F)");
  EXPECT_EQ(in_f("35 to 45 °C"), "95 to 113 °F");
  EXPECT_EQ(in_f("window 35–45 °C."), "window 95–113 °F.");
  EXPECT_EQ(in_f("from (-40 to -5 °C)"), "from (-40 to 23 °F)");
}

TEST(DegreesOfAPhrase, WhatIsNoTemperatureStays) {
  for (const char* const phrase : {"", " °C", "as if °F were taken for °C", "45", "demo-9", "4.0 L"})
    EXPECT_EQ(in_f(phrase), phrase);
  EXPECT_EQ(in_f("of demo-9 °C"), "of demo-48 °F") << "the hyphen of a name is no sign";
  EXPECT_EQ(in_f("back to 45 °C"), "back to 113 °F") << "no range";
  EXPECT_EQ(in_f("0.1234567890 °C"), "0.1234567890 °F") << "so many decimals nobody reads";
  EXPECT_EQ(in_f("30 °C to 35 °C"), "86 °F to 95 °F");
  EXPECT_EQ(degrees_of_phrase("below 30 °C", false), "below 30 °C");
}

TEST(DegreesText, ARateHasNoZeroOfItsOwn) {
  EXPECT_EQ(degrees_text(CelsiusPerMinute{10}, true, 1), "18.0 °F/min");
  EXPECT_EQ(degrees_text(CelsiusPerMinute{10}, false, 1), "10.0 °C/min");
  EXPECT_EQ(degrees_text(Celsius{10}, true, 1), "50.0 °F");
}

}  // namespace
}  // namespace sumplog
