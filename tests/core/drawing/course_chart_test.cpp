#include "core/drawing/course_chart.h"

#include <gmock/gmock.h>

#include "core/decoder/folders.h"
#include "core/drawing/course_picture.h"
#include "core/item/entry_names.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::SizeIs;

constexpr double kPixel = 0.11;  // coordinates are written with one decimal

TEST(CourseChart, DrawsTheWindowAsABandAtTheHeightThatItsAxisSays) {
  FedChart chart;
  chart.readings(0, 600, 20, 50);
  const std::string svg = chart.svg();
  const std::string band = element_of(svg, "window-band");
  const Axis axis = degrees_axis(svg);
  EXPECT_NEAR(number(band, "y"), axis.at(45), kPixel);
  EXPECT_NEAR(number(band, "y") + number(band, "height"), axis.at(35), 2 * kPixel);
}

TEST(CourseChart, DrawsTheSameBandInFahrenheit) {
  FedChart chart;
  chart.readings(0, 600, 20, 50);
  CourseOptions options;
  options.fahrenheit = true;
  const std::string svg = chart.svg(options);
  const std::string band = element_of(svg, "window-band");
  const Axis axis = degrees_axis(svg);
  EXPECT_NEAR(number(band, "y"), axis.at(113), kPixel) << "45 °C";
  EXPECT_NEAR(number(band, "y") + number(band, "height"), axis.at(95), 2 * kPixel) << "35 °C";
  EXPECT_THAT(svg, HasSubstr("window 95 to 113 °F"));
  EXPECT_THAT(svg, Not(HasSubstr("°C")));
}

TEST(CourseChart, NamesAsManyDegreesAsThereIsRoomFor) {
  FedChart chart;
  chart.readings(0, 600, 20, 65);
  const auto degrees = [&](int height) {
    CourseOptions options;
    options.height = height;
    std::vector<double> values;
    for (const auto& [value, y] : degree_labels(chart.svg(options))) values.push_back(value);
    return values;
  };
  EXPECT_EQ(degrees(264), (std::vector<double>{20, 30, 40, 50, 60}))
      << "six times 24 pixels above the 120 of the rest";
  EXPECT_EQ(degrees(263), (std::vector<double>{20, 40, 60}));
}

TEST(CourseChart, DrawsAReadingWhereAxisAndTimeSay) {
  FedChart chart;
  chart.readings(0, 600, 20, 50);
  const std::string svg = chart.svg();
  const auto lines = strokes(attribute(element_of(svg, "fluid"), "d"));
  ASSERT_THAT(lines, SizeIs(1));
  EXPECT_NEAR(lines[0].points.front().second, degrees_axis(svg).at(20), kPixel);
  EXPECT_NEAR(lines[0].points.back().second, degrees_axis(svg).at(50), kPixel);
  EXPECT_NEAR(lines[0].points.back().first, 720 - 18, kPixel) << "the last reading is at the right end";
}

TEST(CourseChart, DrawsNoLineAcrossAGap) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.readings(200, 300, 31, 40);
  const auto lines = strokes(attribute(element_of(chart.svg(), "fluid"), "d"));
  ASSERT_THAT(lines, SizeIs(2));
  const double px_per_s = (720.0 - 18 - 44) / 300;
  EXPECT_NEAR(lines[0].points.back().first, 44 + 100 * px_per_s, kPixel);
  EXPECT_NEAR(lines[1].points.front().first, 44 + 200 * px_per_s, kPixel);
}

TEST(CourseChart, SaysWhereNothingWasRead) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.readings(200, 300, 31, 40);
  const std::string gap = element_of(chart.svg(), "no-reading");
  EXPECT_NEAR(number(gap, "width"), 100 * (720.0 - 18 - 44) / 300, 2 * kPixel);
  EXPECT_THAT(chart.svg(), HasSubstr(">no reading<"));
}

TEST(CourseChart, SaysThatNothingWasReadSinceAndNotBeforeThat) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.chart.on_item(Advance{FedChart::at(102)});
  EXPECT_THAT(chart.svg(), Not(HasSubstr("no-reading"))) << "the last reading is still live";
  chart.chart.on_item(Advance{FedChart::at(200)});
  EXPECT_NEAR(number(element_of(chart.svg(), "no-reading"), "width"), (720.0 - 18 - 44) / 2, 2 * kPixel);
}

TEST(CourseChart, DrawsNoLineAcrossAPauseThatOnlyAGapLineTellsOf) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.reading(102, 30.2);
  GapEvent gap;
  gap.at = FedChart::at(102);
  gap.from = FedChart::at(100);
  gap.to = FedChart::at(102);
  chart.give(gap);
  chart.readings(103, 200, 30.3, 40);
  EXPECT_THAT(strokes(attribute(element_of(chart.svg(), "fluid"), "d")), SizeIs(2));
}

TEST(CourseChart, DrawsNoLineOverAReadingWithoutAValue) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  ReadingEvent none;
  none.at = FedChart::at(101);
  none.signal = "fluid_temperature";
  none.ecu = "7E9";
  none.why = "not available";
  chart.give(none);
  chart.readings(102, 200, 30, 40);
  EXPECT_THAT(strokes(attribute(element_of(chart.svg(), "fluid"), "d")), SizeIs(2));
}

TEST(CourseChart, ReadingsByHandAndSuspectOnesAreOtherMarksAndNoPartOfTheLine) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.reading(100.5, 90, Quality::suspect);
  chart.reading(110, 33, Quality::by_hand);
  chart.readings(111, 200, 31, 40);
  const std::string svg = chart.svg();
  const Axis axis = degrees_axis(svg);
  for (const Stroke& line : strokes(attribute(element_of(svg, "fluid"), "d")))
    for (const auto& [x, y] : line.points) EXPECT_GE(y, axis.at(40) - kPixel);
  EXPECT_THAT(element_of(svg, "by-hand"), HasSubstr("<circle"));
  EXPECT_NEAR(number(element_of(svg, "by-hand"), "cy"), axis.at(33), kPixel);
  EXPECT_THAT(element_of(svg, "suspect"), HasSubstr("<path"));
  EXPECT_NEAR(strokes(attribute(element_of(svg, "suspect"), "d"))[0].points[0].second + 3, axis.at(90),
              kPixel);
  EXPECT_THAT(svg, HasSubstr("fluid, read by hand"));
  EXPECT_THAT(svg, HasSubstr("fluid, suspect reading"));
}

TEST(CourseChart, AnotherUnitsReadingIsNotMixedIn) {
  FedChart chart;
  for (double s = 0; s <= 100; s += 1) {
    chart.reading(s, 30);
    chart.reading(s + 0.5, 80, Quality::measured, "fluid_temperature", "7EA");
  }
  const std::string svg = chart.svg();
  for (const Stroke& line : strokes(attribute(element_of(svg, "fluid"), "d")))
    for (const auto& [x, y] : line.points) EXPECT_NEAR(y, degrees_axis(svg).at(30), kPixel);
}

TEST(CourseChart, MarksPlugAndEngine) {
  FedChart chart;
  chart.readings(0, 100, 36, 40);
  chart.reading(10, 0, Quality::measured, "engine_speed", "7E8");
  chart.reading(20, 700, Quality::measured, "engine_speed", "7E8");
  chart.give(EntryEvent{FedChart::at(60), "e-1", std::string(kPlugOut), R"({"ago_s":30})", FedChart::at(30)});
  chart.give(EntryEvent{FedChart::at(90), "e-2", std::string(kPlugIn), "{}", {}});
  const std::string svg = chart.svg();
  const double px_per_s = (720.0 - 18 - 44) / 100;
  const auto mark_x = [&](const std::string& type) {
    const std::size_t at = svg.find("<g class=\"mark " + type);
    if (at == std::string::npos) return -1.0;
    return strokes(svg.substr(at, svg.find("</g>", at) - at))[0].points[0].first;
  };
  EXPECT_NEAR(mark_x("plug-out"), 44 + 30 * px_per_s, kPixel) << "when it happened, not when it was entered";
  EXPECT_NEAR(mark_x("plug-in"), 44 + 90 * px_per_s, kPixel);
  EXPECT_NEAR(mark_x("engine-started"), 44 + 20 * px_per_s, kPixel);
  EXPECT_EQ(mark_x("engine-stopped"), -1);
}

ThermalEvent rising_at(double s, double temp_c) {
  ThermalEvent thermal;
  thermal.at = FedChart::at(s);
  thermal.temp_c = temp_c;
  thermal.rate_c_per_min = 3;
  thermal.window = WindowState::below;
  thermal.enter_in_s = Quantiles{90, 100, 120};
  thermal.stay_s = Quantiles{150, 200, 300};
  return thermal;
}

TEST(CourseChart, DrawsTheForecastOfARunningJobAsAFanToStartAndEndOfTheWindow) {
  FedChart chart;
  chart.readings(0, 600, 15, 30);
  chart.give(rising_at(600, 30));
  CourseOptions options;
  options.now = FedChart::at(601);
  const std::string svg = chart.svg(options);
  const auto fan = strokes(attribute(element_of(svg, "forecast"), "d"));
  ASSERT_THAT(fan, SizeIs(1));
  ASSERT_THAT(fan[0].points, SizeIs(5));
  const Axis axis = degrees_axis(svg);
  const double px_per_s = (720.0 - 18 - 44) / (600 + 120 + 300);  // the picture reaches to the latest end
  const std::vector<std::pair<double, double>> corners{
      {600, 30}, {600 + 90, 35}, {600 + 90 + 150, 45}, {600 + 120 + 300, 45}, {600 + 120, 35}};
  for (std::size_t i = 0; i < corners.size(); ++i) {
    EXPECT_NEAR(fan[0].points[i].first, 44 + corners[i].first * px_per_s, kPixel) << i;
    EXPECT_NEAR(fan[0].points[i].second, axis.at(corners[i].second), kPixel) << i;
  }
}

TEST(CourseChart, WhatComesLaterThanThePictureReachesKeepsItsPlace) {
  FedChart chart;
  chart.readings(0, 600, 15, 30);
  ThermalEvent thermal = rising_at(600, 30);
  thermal.stay_s = Quantiles{1000, 2000, std::nullopt};  // at the latest: it never gets there
  chart.give(thermal);
  CourseOptions options;
  options.now = FedChart::at(600);
  const std::string svg = chart.svg(options);
  const auto fan = strokes(attribute(element_of(svg, "forecast"), "d"));
  ASSERT_THAT(fan[0].points, SizeIs(5));
  const double px_per_s = (720.0 - 18 - 44) / (600 + 1200);  // twenty minutes ahead at the most
  EXPECT_NEAR(fan[0].points[2].first, 44 + (600 + 90 + 1000) * px_per_s, kPixel);
  EXPECT_GT(fan[0].points[3].first, 100'000) << "cut off by the picture's edge";
  EXPECT_THAT(svg, HasSubstr("<g clip-path=\"url(#course-plot)\">"));
}

TEST(CourseChart, DrawsNoForecastThatIsNotLive) {
  FedChart chart;
  chart.readings(0, 600, 15, 30);
  chart.give(rising_at(600, 30));
  CourseOptions options;
  options.now = FedChart::at(603.5);
  EXPECT_EQ(element_of(chart.svg(options), "forecast"), "") << "three seconds is the age of a live reading";
  EXPECT_EQ(element_of(chart.svg(), "forecast"), "") << "the job is over";
}

TEST(CourseChart, APartOfTheJobIsDrawnWithoutWhatCameBeforeAndAfter) {
  FedChart chart;
  for (const double s : {100.0, 400.0, 900.0})
    chart.give(EntryEvent{FedChart::at(s), "e", std::string(kPlugOut), "{}", {}});
  chart.readings(0, 1000, 20, 50);
  chart.give(rising_at(1000, 30));
  CourseOptions options;
  options.from = FedChart::at(300);
  options.to = FedChart::at(600);
  options.now = FedChart::at(1001);
  const std::string svg = chart.svg(options);
  EXPECT_EQ(count_of(svg, "<g class=\"mark plug-out"), 1U);
  EXPECT_EQ(element_of(svg, "forecast"), "") << "what is to come lies behind it";
  EXPECT_THAT(svg, HasSubstr("Fluid, measured: first 29, lowest 29, highest 38, last 38 °C."));
}

TEST(CourseChart, ADecisionPointIsDrawnWhereItLiesInTheWindow) {
  const auto with_window = [](const char* window) {
    CourseChart chart;
    Settings settings{kChartStart, "0011", "test", "", {}};
    if (window != nullptr) settings.values.emplace_back("window", window);
    chart.on_item(settings);
    for (const char* name : {"demo-9/signals.toml", "demo-9/service.toml"})
      chart.on_item(
          DecoderText{kChartStart, name, file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)});
    return chart.svg({});
  };
  // The service file of the demo has 35 to 45 °C and decides at 40 °C.
  EXPECT_NE(element_of(with_window(nullptr), "decision"), "");
  EXPECT_EQ(element_of(with_window("50:60"), "decision"), "") << "a window that a person set left it behind";
  EXPECT_EQ(element_of(with_window("20:30"), "decision"), "");
  CourseChart without;
  without.on_item(Settings{kChartStart, "0011", "test", "", {}});
  without.on_item(DecoderText{
      kChartStart, "d/service.toml",
      "format = 1\nid = \"d\"\ntitle = \"t\"\n[decision_point]\nat_c = 40\norigin = \"invented\"\n"});
  EXPECT_THAT(without.svg({}), Not(HasSubstr("decision point"))) << "nor is it named without a window";
}

TEST(CourseChart, TheTimeOfDayIsThatOfTheClockThatIsGiven) {
  FedChart chart;
  chart.readings(0, 600, 20, 50);
  CourseOptions options;
  options.clock = [](TimePoint) { return std::string("ten past noon"); };
  EXPECT_THAT(chart.svg(options), HasSubstr("ten past noon"));
  EXPECT_THAT(chart.svg(), HasSubstr("22:13"));  // date -u -d @1700000000
}

TEST(CourseChart, OfTooManyMarksOfThePlugTheOldestGoes) {
  FedChart chart;
  for (int i = 0; i < 1000; ++i)
    chart.give(EntryEvent{FedChart::at(i), "e", std::string(i % 2 == 0 ? kPlugOut : kPlugIn), "{}", {}});
  const std::string svg = chart.svg();
  EXPECT_EQ(count_of(svg, "<g class=\"mark "), CourseChart::kMostMarks);
  EXPECT_THAT(svg, HasSubstr("800 older marks are left out"));
}

TEST(CourseChart, CoolantAndEngineAreThoseOfTheUnitThatToldThemFirst) {
  FedChart chart;
  chart.readings(0, 100, 20, 30);
  chart.reading(101, 60, Quality::measured, "coolant_temperature", "7E8");
  chart.reading(102, 99, Quality::measured, "coolant_temperature", "7EA");
  chart.reading(103, 0, Quality::measured, "engine_speed", "7E8");
  chart.reading(104, 700, Quality::measured, "engine_speed", "7EA");
  const std::string svg = chart.svg();
  EXPECT_THAT(svg, HasSubstr("Coolant: first 60, lowest 60, highest 60, last 60 °C."));
  EXPECT_EQ(count_of(svg, "<g class=\"mark "), 0U);
}

TEST(CourseChart, AReadingByHandThatHasNoValueIsNoPoint) {
  FedChart chart;
  ReadingEvent reading;
  reading.at = FedChart::at(1);
  reading.signal = "fluid_temperature";
  reading.quality = Quality::by_hand;
  chart.give(reading);
  EXPECT_TRUE(chart.chart.empty());
  reading.value = 40;
  reading.at = FedChart::at(2);
  chart.give(reading);
  EXPECT_FALSE(chart.chart.empty());
  FedChart suspect;
  suspect.reading(1, 40, Quality::suspect);
  EXPECT_FALSE(suspect.chart.empty()) << "nor is a suspect one nothing";
}

TEST(CourseChart, ADaysMemoryAndPictureAreBoundedAndNoPeakIsLost) {
  FedChart chart;
  for (double s = 0; s < 86400; s += 0.5) chart.reading(s, 40);
  chart.reading(86400, 40);
  FedChart peak;
  for (double s = 0; s < 86400; s += 0.5) peak.reading(s, s == 43210.5 ? 77 : s == 61000 ? 4 : 40);
  const std::string svg = peak.svg();
  EXPECT_LT(svg.size(), 100'000U);
  EXPECT_THAT(svg, HasSubstr("lowest 4, highest 77"));
  double top = 1e9;
  double bottom = 0;
  for (const Stroke& line : strokes(attribute(element_of(svg, "fluid"), "d")))
    for (const auto& [x, y] : line.points) {
      top = std::min(top, y);
      bottom = std::max(bottom, y);
    }
  EXPECT_NEAR(top, degrees_axis(svg).at(77), kPixel);
  EXPECT_NEAR(bottom, degrees_axis(svg).at(4), kPixel);
}

TEST(CourseChart, AGapThatIsNarrowerThanAPixelStillEndsTheLine) {
  FedChart chart;
  for (double s = 0; s < 86400; s += 1)
    if (s < 43201 || s >= 43221) chart.reading(s, s < 43211 ? 40 : 60);
  const auto lines = strokes(attribute(element_of(chart.svg(), "fluid"), "d"));
  const double before = degrees_axis(chart.svg()).at(40);
  for (const Stroke& line : lines)
    for (const auto& [x, y] : line.points)
      EXPECT_NEAR(y, line.points.front().second, kPixel) << "no stroke leads from 40 to 60 °C";
  EXPECT_NEAR(lines.front().points.back().second, before, kPixel);
}

TEST(CourseChart, OfTooManyMarksTheEnginesGoFirstAndThatIsSaid) {
  FedChart chart;
  chart.give(EntryEvent{FedChart::at(1), "e-1", std::string(kPlugOut), "{}", {}});
  for (int i = 0; i < 1000; ++i)
    chart.reading(2 + i, i % 2 == 0 ? 0 : 700, Quality::measured, "engine_speed", "7E8");
  const std::string svg = chart.svg();
  EXPECT_EQ(count_of(svg, "<g class=\"mark "), CourseChart::kMostMarks);
  EXPECT_EQ(count_of(svg, "<g class=\"mark plug-out"), 1U);
  EXPECT_THAT(svg, HasSubstr("800 older marks are left out"));
}

TEST(CourseChart, EscapesWhatAPersonTyped) {
  FedChart chart;
  CourseOptions options;
  options.title = "<script>alert('x')</script>";
  options.id = "a\"><script>";
  const std::string svg = chart.svg(options);
  EXPECT_THAT(svg, Not(HasSubstr("<script")));
  EXPECT_THAT(svg, HasSubstr("&lt;script&gt;"));
}

TEST(CourseChart, AJobWithoutAnythingHasAPictureToo) {
  const CourseChart nothing;
  EXPECT_TRUE(nothing.empty());
  EXPECT_THAT(nothing.svg({}), HasSubstr("No reading of the fluid."));
  FedChart no_window("");
  no_window.readings(0, 100, 20, 30);
  EXPECT_EQ(element_of(no_window.svg(), "window-band"), "");
}

TEST(CourseChart, IsEmptyUntilThereIsAReadingOfTheFluidOfAnyKind) {
  for (const Quality quality : {Quality::measured, Quality::by_hand, Quality::suspect}) {
    FedChart chart;
    EXPECT_TRUE(chart.chart.empty());
    chart.reading(1, 40, quality);
    EXPECT_FALSE(chart.chart.empty());
  }
}

TEST(CourseChart, OfReadingsByHandAloneItDoesNotSayThatThereAreNone) {
  FedChart chart;
  chart.reading(10, 33, Quality::by_hand);
  EXPECT_THAT(chart.svg(), Not(HasSubstr("No reading of the fluid.")));
}

TEST(CourseChart, TwoReadingsByHandAtOnePlaceAreDrawnTwiceWhereTheyDiffer) {
  const auto circles = [](double second_c) {
    FedChart chart;
    chart.readings(0, 600, 20, 50);
    chart.reading(601, 33, Quality::by_hand);
    chart.reading(601, second_c, Quality::by_hand);
    const std::string svg = chart.svg();
    return count_of(svg.substr(0, svg.find("class=\"legend\"")), "class=\"by-hand\"");
  };
  EXPECT_EQ(circles(33), 1U);
  EXPECT_EQ(circles(36), 2U);
}

TEST(CourseChart, TwoReadingsOfOneMomentAreAStrokeUpwards) {
  FedChart chart;
  chart.reading(0, 20);
  chart.reading(100, 30);
  chart.reading(100, 33);
  const std::string svg = chart.svg();
  const auto lines = strokes(attribute(element_of(svg, "fluid"), "d"));
  ASSERT_THAT(lines, SizeIs(2));
  ASSERT_THAT(lines[1].points, SizeIs(2));
  EXPECT_EQ(lines[1].points[0].first, lines[1].points[1].first);
  EXPECT_NEAR(lines[1].points[0].second, degrees_axis(svg).at(30), kPixel);
  EXPECT_NEAR(lines[1].points[1].second, degrees_axis(svg).at(33), kPixel);
}

TEST(CourseChart, AGapOfLessThanThreePixelsIsTheEndOfTheLineAlone) {
  const auto gaps = [](double gap_s) {
    FedChart chart;
    chart.readings(0, 300, 20, 30);
    chart.readings(300 + gap_s, 658, 31, 40);  // a pixel a second
    return count_of(chart.svg(), "class=\"no-reading\"");
  };
  EXPECT_EQ(gaps(3.5), 1U);
  EXPECT_EQ(gaps(2.9), 0U);
  FedChart slower;
  slower.readings(0, 300, 20, 30);
  slower.readings(304, 6580, 31, 40);
  EXPECT_EQ(count_of(slower.svg(), "class=\"no-reading\""), 0U) << "ten seconds a pixel";
  EXPECT_THAT(strokes(attribute(element_of(slower.svg(), "fluid"), "d")), SizeIs(2));
}

TEST(CourseChart, WithoutAForecastAWindowOrAnEstimateThePictureEndsNow) {
  CourseOptions options;
  options.now = FedChart::at(601);
  const auto with = [&](const char* window, bool estimate, bool forecast) {
    FedChart chart(window);
    chart.readings(0, 600, 15, 30);
    ThermalEvent thermal = rising_at(600, 30);
    if (!forecast) thermal.enter_in_s.reset();
    if (estimate) chart.give(thermal);
    const std::string svg = chart.svg(options);
    // The last reading, a second before now: at the right end but where the picture goes on.
    const double last = strokes(attribute(element_of(svg, "fluid"), "d")).back().points.back().first;
    return std::pair{element_of(svg, "forecast") != "", last > 700};
  };
  EXPECT_EQ(with("35:45", true, true), (std::pair{true, false}));
  EXPECT_EQ(with("35:45", true, false), (std::pair{false, true}));
  EXPECT_EQ(with("35:45", false, false), (std::pair{false, true}));
  EXPECT_EQ(with("", true, true), (std::pair{false, true}));
}

TEST(CourseChart, AServiceFileWithoutADecisionPointDrawsNone) {
  CourseChart chart;
  chart.on_item(Settings{kChartStart, "0011", "test", "", {{"window", "35:45"}}});
  chart.on_item(DecoderText{kChartStart, "d/service.toml", "format = 1\nid = \"d\"\ntitle = \"t\"\n"});
  EXPECT_NE(element_of(chart.svg({}), "window-band"), "");
  EXPECT_EQ(element_of(chart.svg({}), "decision"), "");
}

TEST(CourseChart, IsAPictureForAScreenReader) {
  FedChart chart;
  chart.readings(0, 600, 20, 50);
  const std::string svg = chart.svg();
  EXPECT_THAT(svg, HasSubstr("role=\"img\""));
  EXPECT_THAT(svg, HasSubstr("aria-labelledby=\"course-title course-desc\""));
  EXPECT_THAT(svg, HasSubstr("Fluid, measured: first 20, lowest 20, highest 50, last 50 °C."));
}

TEST(CourseChart, SizesAreClamped) {
  FedChart chart;
  CourseOptions options;
  options.width = 1;
  options.height = 1'000'000;
  EXPECT_THAT(chart.svg(options), HasSubstr("width=\"280\" height=\"4000\""));
}

}  // namespace
}  // namespace sumplog::testing
