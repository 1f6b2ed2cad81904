#include "core/job/course.h"

#include <gtest/gtest.h>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr TimePoint kStart = at_micros(1700000000000000);

TEST(Course, TellsLowestHighestRateAndMeanBetweenTwoMoments) {
  Course course;
  for (int i = 0; i < 100; ++i) {
    const TimePoint at = kStart + i * 1s;
    course.on_fluid(at, 30 + i * 0.1, i * 0.01);
    course.on_engine(at, 600 + i);
    course.on_engine(at + 500ms, 600 + i);
  }
  const auto span = course.between(kStart + 20s, kStart + 40s);
  EXPECT_DOUBLE_EQ(span.low_c.value(), 32);
  EXPECT_DOUBLE_EQ(span.high_c.value(), 34);
  EXPECT_DOUBLE_EQ(span.rate_c_per_min.value(), 0.4);
  EXPECT_DOUBLE_EQ(span.mean_rpm.value(), 630);
  EXPECT_FALSE(course.between(kStart + 200s, kStart + 300s).low_c);
}

TEST(Course, KnowsTheFirstReadingThatReachedAPoint) {
  Course course;
  for (int i = 0; i < 20; ++i) course.on_fluid(kStart + i * 1s, 30 + i, {});
  EXPECT_EQ(course.first_from(39.5, kStart, kStart + 19s), 40);
  EXPECT_EQ(course.first_from(39.5, kStart + 15s, kStart + 19s), 45);
  EXPECT_FALSE(course.first_from(39.5, kStart, kStart + 5s));
  course.on_engine(kStart + 30s, 700);
  course.on_fluid(kStart + 40s, 60, {});
  EXPECT_EQ(course.first_from(50, kStart, kStart + 50s), 60)
      << "in a second without the fluid nothing is reached";
}

TEST(Course, KnowsWhatTheUnitReadThen) {
  Course course;
  course.on_measured(kStart, 30);
  course.on_measured(kStart + 60s, 35);
  EXPECT_EQ(course.measured_at(kStart + 2s, 3s), 30);
  EXPECT_FALSE(course.measured_at(kStart + 4s, 3s));
  EXPECT_FALSE(course.measured_at(kStart - 1s, 3s));
  course.forget_before(kStart + 100s);
  EXPECT_EQ(course.measured_at(kStart + 61s, 3s), 35) << "the last one is always known";
}

TEST(Course, KeepsTheExtremesOfADayInConstantMemory) {
  Course course;
  course.on_fluid(kStart, 10, {});
  course.on_fluid(kStart + 1s, 90, {});
  for (int i = 2; i < 86'400; ++i) course.on_fluid(kStart + i * 1s, 40, {});
  const auto span = course.between(kStart, kStart + 86'400s);
  EXPECT_EQ(span.low_c, 10);
  EXPECT_EQ(span.high_c, 90);
}

TEST(Course, ForgetsASecondThatBeganBefore) {
  Course course;
  course.on_fluid(kStart, 10, {});
  course.forget_before(kStart + 500ms);
  course.on_fluid(kStart + 600ms, 40, {});
  EXPECT_EQ(course.between(kStart, kStart + 1s).low_c, 40);
}

}  // namespace
}  // namespace sumplog
