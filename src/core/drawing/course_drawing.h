#pragma once
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/drawing/course_chart.h"
#include "core/drawing/course_fan.h"
#include "core/drawing/round_ticks.h"
#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"
#include "core/thermal/temperature.h"

namespace sumplog {

// Measures of a drawn course, in CSS pixels.
namespace measure {
inline constexpr double kFont = 12;
inline constexpr double kCharacter = 6.6;  // as wide as one is on average, generously
inline constexpr double kRow = 15;
inline constexpr double kLeft = 44;
inline constexpr double kRight = 18;
inline constexpr double kTop = 8;
inline constexpr double kAxisRows = 2.6 * kRow;  // minutes, clock
inline constexpr double kSample = 22;            // of a legend
inline constexpr double kBetween = 14;           // legends
inline constexpr std::size_t kMarkRows = 4;
inline constexpr double kBetweenMarks = 6;
inline constexpr double kTimeLabel = 64;  // room that one takes
inline constexpr double kSeenGap = 3;     // narrower ones are the line's own end
inline constexpr double kNamedGap = 78;
}  // namespace measure

[[nodiscard]] inline std::string px(double value) {
  return fixed(value, 1);
}

/// About how wide words are drawn.
[[nodiscard]] inline double pixels_of(std::string_view words) {
  return measure::kCharacter * static_cast<double>(columns_of(words));
}

/// One drawing of a course: course_layout.cpp says where everything lies, course_svg.cpp draws it.
class CourseDrawing {
 public:
  using Point = ThinnedCourse::Point;
  using Piece = ThinnedCourse::Piece;

  CourseDrawing(const CourseChart& chart, const CourseOptions& options);
  std::string take();

 private:
  static constexpr Duration kFine = std::chrono::minutes{10};  ///< a shorter picture tells seconds

  // Values are shown in °C or °F; everything else here counts in °C.
  [[nodiscard]] double shown(double c) const { return options_.fahrenheit ? fahrenheit(Celsius{c}) : c; }
  [[nodiscard]] std::string unit() const { return options_.fahrenheit ? "°F" : "°C"; }
  [[nodiscard]] std::string degrees(double c) const {
    const double value = shown(c);
    return fixed(value, std::abs(value - std::round(value)) < 0.05 ? 0 : 1);
  }
  [[nodiscard]] std::string minutes(TimePoint at) const {
    return minutes_text(in_seconds(at - began_), span_ < kFine ? 1 : 60);
  }
  [[nodiscard]] std::string time_of_day(TimePoint at) const;
  [[nodiscard]] double x(TimePoint at) const {
    return left_ + in_seconds(at - from_) / in_seconds(span_) * (right_ - left_);
  }
  [[nodiscard]] double y(double c) const { return y_shown(shown(c)); }
  [[nodiscard]] double y_shown(double value) const {
    return bottom_ - (value - low_) / (high_ - low_) * (bottom_ - top_);
  }
  [[nodiscard]] std::string at(TimePoint time, double c) const { return px(x(time)) + "," + px(y(c)); }

  void choose_times();
  void choose_temperatures();
  void name_things();
  void place_marks();
  [[nodiscard]] std::vector<Piece> part_of(const ThinnedCourse& course) const;
  [[nodiscard]] std::string described() const;

  void draw_window();
  void draw_gaps();
  void draw_gap(TimePoint begin, TimePoint end);
  void draw_line(const char* type, const std::string& look, const std::vector<Piece>& pieces);
  void draw_fan();
  void draw_points();
  void draw_marks();
  void draw_axes();
  void draw_legend();
  void text(double at_x, double at_y, const char* type, const char* anchor, const std::string& words);

  struct Named {
    std::string shape;  ///< a picture of it, 22 by 12 pixels, around 0,0
    std::string text;
  };
  struct PlacedMark {
    CourseChart::Mark mark;
    double label_x = 0;
    const char* anchor = "middle";
    int row = -1;  ///< -1: no room for a label
  };

  const CourseChart& chart_;
  const CourseOptions& options_;
  double width_ = 0, height_ = 0, left_ = 0, right_ = 0, top_ = 0, bottom_ = 0;
  TimePoint began_{}, from_{}, to_{};
  Duration span_{};
  std::optional<TemperatureWindow> window_;
  std::optional<double> decision_c_;
  std::optional<CourseFan> fan_;
  std::vector<Piece> fluid_, by_hand_, suspect_, coolant_;
  double low_ = 0, high_ = 1;  ///< as shown
  RoundTicks degrees_;
  std::vector<Named> names_;
  std::vector<std::vector<std::size_t>> legend_;  ///< rows of names_
  std::vector<PlacedMark> marks_;
  std::string out_;
};

}  // namespace sumplog
