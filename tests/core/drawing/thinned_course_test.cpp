#include "core/drawing/thinned_course.h"

#include <gtest/gtest.h>

#include "core/drawing/html_writer.h"
#include "core/drawing/markup.h"
#include "core/drawing/round_ticks.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

TimePoint at(double s) {
  return at_micros(static_cast<std::int64_t>(s * 1e6));
}

TEST(ThinnedCourse, NeverKeepsMoreThanItsBoundAndKeepsLowestAndHighestWithTheirTimes) {
  ThinnedCourse course(3s);
  std::size_t most = 0;
  for (int i = 0; i < 86400; ++i) {
    course.add(at(i), i == 30000 ? -20 : i == 70001 ? 130 : 50);
    most = std::max(most, course.pieces().size());
  }
  EXPECT_LE(most, ThinnedCourse::kMost);
  EXPECT_GT(course.pieces().size(), ThinnedCourse::kMost / 4) << "thinned more than it must";
  TimePoint low_at{};
  TimePoint high_at{};
  for (const ThinnedCourse::Piece& piece : course.pieces()) {
    if (piece.low.value == -20) low_at = piece.low.at;
    if (piece.high.value == 130) high_at = piece.high.at;
    EXPECT_TRUE(piece.whole);
  }
  EXPECT_EQ(low_at, at(30000));
  EXPECT_EQ(high_at, at(70001));
}

TEST(ThinnedCourse, AGapInsideASliceIsKept) {
  ThinnedCourse course(3s);
  for (int i = 0; i < 86400; ++i)
    if (i < 40010 || i >= 40015) course.add(at(i), 50);  // slices of 32 s begin at 40000 and 40032
  for (const ThinnedCourse::Piece& piece : course.pieces()) {
    EXPECT_EQ(piece.whole, !(piece.first.at < at(40010) && piece.last.at >= at(40015)));
    EXPECT_EQ(piece.joined, piece.first.at != at(0));
  }
  for (const ThinnedCourse::Piece& piece : course.pieces(at(0), at(86400), 1000s))
    EXPECT_EQ(piece.whole, !(piece.first.at < at(40010) && piece.last.at >= at(40015))) << "joined again";
}

TEST(ThinnedCourse, GapsWithoutEndDoNotFillTheMemory) {
  ThinnedCourse course(3s);
  for (int i = 0; i < 100'000; ++i) course.add(at(i * 5.0), 50);
  EXPECT_LE(course.pieces().size(), ThinnedCourse::kMost);
  for (const ThinnedCourse::Piece& piece : course.pieces()) EXPECT_FALSE(piece.whole || piece.joined);
}

TEST(ThinnedCourse, APointFromThePastIsTakenForAsOldAsTheLast) {
  ThinnedCourse course(3s);
  course.add(at(10), 1);
  course.add(at(5), 2);
  EXPECT_EQ(course.last(), at(10));
}

TEST(ThinnedCourse, AGapThatIsToldLaterIsKeptWhereItLies) {
  ThinnedCourse empty(3s);
  empty.interrupt_before(at(5));
  EXPECT_FALSE(empty.last());
  ThinnedCourse after(3s);  // the gap ended before the newest point
  after.add(at(10), 1);
  after.add(at(12), 2);
  after.interrupt_before(at(12));
  EXPECT_FALSE(after.pieces().back().joined);
  ThinnedCourse within(100s);  // it lies within one slice
  for (int i = 0; i < 86400; ++i) within.add(at(i), 50);
  ASSERT_LT(within.pieces().back().first.at, at(86399));
  EXPECT_TRUE(within.pieces().back().whole);
  within.interrupt_before(at(86399));
  EXPECT_FALSE(within.pieces().back().whole);
}

TEST(ThinnedCourse, APartIsWhatTouchesTheTimesAskedFor) {
  ThinnedCourse course(3s);
  for (int i = 0; i < 100; ++i) course.add(at(i), i);
  const auto part = course.pieces(at(10), at(20), 0s);
  ASSERT_FALSE(part.empty());
  EXPECT_GE(part.front().last.at, at(10));
  EXPECT_LE(part.back().first.at, at(20));
  EXPECT_TRUE(course.pieces(at(200), at(300), 0s).empty());
  EXPECT_TRUE(course.pieces(at(-20), at(-10), 0s).empty());
}

TEST(ThinnedCourse, TimesBefore1970HaveSlicesToo) {
  ThinnedCourse course(3s);
  for (int i = -50'000; i < 50'000; ++i) course.add(at(i), i);
  EXPECT_LE(course.pieces().size(), ThinnedCourse::kMost);
  EXPECT_EQ(course.pieces().front().first.at, at(-50'000));
  EXPECT_EQ(course.pieces().back().last.at, at(49'999));
  for (const ThinnedCourse::Piece& piece : course.pieces())
    EXPECT_FALSE(piece.first.at < at(0) && piece.last.at >= at(0))
        << "the slice around 1970 is as long as others";
}

TEST(RoundTicks, AreStepsOfOneTwoOrFive) {
  const RoundTicks ticks = round_ticks(18.3, 66.2, 6);
  EXPECT_EQ(ticks.places, (std::vector<double>{20, 30, 40, 50, 60}));
  EXPECT_EQ(ticks.decimals, 0);
  EXPECT_EQ(round_ticks(-3, 3, 7).places, (std::vector<double>{-3, -2, -1, 0, 1, 2, 3}));
  EXPECT_EQ(round_ticks(0.0, 1.0, 6).decimals, 1);
  EXPECT_LE(round_ticks(20, 20 + 1e-12, 6).decimals, 9) << "a course that stands still";
}

TEST(RoundTicks, OfTimesAreThoseOfAClock) {
  EXPECT_EQ(round_times(0, 600, 6).places, (std::vector<double>{0, 120, 240, 360, 480, 600}));
  EXPECT_EQ(round_times(0, 12300, 8).step, 1800);
  EXPECT_LE(round_times(0, 1e7, 8).places.size(), 8U);
  EXPECT_EQ(minutes_text(450, 60), "7");
  EXPECT_EQ(minutes_text(450, 30), "7:30");
  EXPECT_EQ(minutes_text(-90, 30), "-1:30");
}

TEST(Markup, NothingInATextEndsIt) {
  EXPECT_EQ(escaped("<b>&\"'</b>"), "&lt;b&gt;&amp;&quot;&#39;&lt;/b&gt;");
  EXPECT_EQ(escaped("35 °C\n"), "35 °C\n");
  EXPECT_EQ(escaped("a\tb\x7F"), "a\tb\xEF\xBF\xBD");
  EXPECT_EQ(escaped(std::string_view("a\0b\x1b\xff", 5)),
            "a\xEF\xBF\xBD"
            "b\xEF\xBF\xBD\xEF\xBF\xBD");
}

TEST(HtmlWriter, ClosesWhatIsOpenAndLeavesOutWhatIsEmpty) {
  HtmlWriter html;
  html.open("div");
  html.element("p", "");
  html.named_row("name", "");
  html.open("p");
  html.text("a < b");
  EXPECT_EQ(html.take(), "<div><p>a &lt; b</p>\n</div>\n");
}

TEST(HtmlWriter, ARowThatIsTooShortHasEmptyCells) {
  HtmlWriter html;
  html.table({"a", "b"}, {{"1"}});
  const std::string text = html.take();
  EXPECT_EQ(text.substr(text.find("<tbody>")),
            "<tbody><tr><td class=\"short\">1</td>\n<td></td>\n</tr>\n</tbody>\n</table>\n");
}

TEST(HtmlWriter, ShortensBetweenCharacters) {
  EXPECT_EQ(shortened("ab°cd", 3), "ab°…");
  EXPECT_EQ(shortened("ab°cd", 5), "ab°cd");
}

}  // namespace
}  // namespace sumplog
