// Where everything of a drawn course lies, and what it is called.
#include <chrono>

#include "core/drawing/course_drawing.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kShortest = 60s;      // no picture shows less
constexpr Duration kLeastAhead = 20min;  // room for a forecast, at most
constexpr double kDegreeRow = 24;        // CSS pixels that a place on the axis takes
constexpr double kShareAhead = 0.5;      // of what has been

std::string utc_time_of_day(TimePoint at) {
  constexpr std::int64_t kDay_min = std::int64_t{24} * 60;
  const std::int64_t min = std::chrono::floor<std::chrono::minutes>(at.time_since_epoch()).count();
  const std::int64_t in_day = (min % kDay_min + kDay_min) % kDay_min;
  const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return two(in_day / 60) + ":" + two(in_day % 60);
}

}  // namespace

CourseDrawing::CourseDrawing(const CourseChart& chart, const CourseOptions& options)
    : chart_(chart), options_(options) {
  width_ = std::clamp(options.width, CourseOptions::kSmallestWidth, CourseOptions::kLargest);
  height_ = std::clamp(options.height, CourseOptions::kSmallestHeight, CourseOptions::kLargest);
  left_ = measure::kLeft;
  right_ = width_ - measure::kRight;
  const JobConfiguration& configuration = chart.configuration();
  window_ = configuration.window;
  if (configuration.service && configuration.service->decision_point)
    decision_c_ = configuration.service->decision_point->value.value;
  // A decision point that a window of the command line left behind says nothing.
  if (decision_c_ && (!window_ || *decision_c_ < window_->low.value || *decision_c_ > window_->high.value))
    decision_c_.reset();
  choose_times();
  fluid_ = part_of(chart.fluid_);
  by_hand_ = part_of(chart.by_hand_);
  suspect_ = part_of(chart.suspect_);
  coolant_ = part_of(chart.coolant_);
  choose_temperatures();
  name_things();
  place_marks();
  double rows = 0;
  for (const PlacedMark& one : marks_) rows = std::max(rows, one.row + 1.0);
  top_ = measure::kTop + measure::kRow + rows * measure::kRow;
  bottom_ = height_ - measure::kAxisRows - static_cast<double>(legend_.size()) * measure::kRow - 4;
  bottom_ = std::max(bottom_, top_ + 2 * measure::kRow);
}

void CourseDrawing::choose_times() {
  began_ = chart_.began_.value_or(TimePoint{});
  from_ = options_.from.value_or(began_);
  const TimePoint last = std::max(chart_.last_.value_or(began_), options_.now.value_or(TimePoint{}));
  to_ = options_.to.value_or(last);
  const bool live = options_.now && chart_.thermal_ && window_ &&
                    *options_.now - chart_.thermal_->at <= chart_.configuration().fresh;
  if (live && !options_.to) {
    const Duration ahead =
        std::max(Duration{kLeastAhead},
                 Duration{std::llround(static_cast<double>((last - from_).count()) * kShareAhead)});
    fan_ = course_fan(*chart_.thermal_, *window_, last + ahead);
    if (fan_) to_ = std::max(to_, fan_->ends);
  }
  to_ = std::max(to_, from_ + kShortest);
  span_ = to_ - from_;
}

std::vector<CourseDrawing::Piece> CourseDrawing::part_of(const ThinnedCourse& course) const {
  const double s_per_px = in_seconds(span_) / (right_ - left_);
  return course.pieces(from_, to_, Duration{std::llround(s_per_px * 1e6)});
}

void CourseDrawing::choose_temperatures() {
  std::optional<double> low;
  std::optional<double> high;
  const auto take = [&](double c) {
    low = std::min(low.value_or(shown(c)), shown(c));
    high = std::max(high.value_or(shown(c)), shown(c));
  };
  for (const auto* pieces : {&fluid_, &by_hand_, &suspect_, &coolant_})
    for (const Piece& piece : *pieces) {
      take(piece.low.value);
      take(piece.high.value);
    }
  if (window_) {
    take(window_->low.value);
    take(window_->high.value);
  }
  if (!low) {  // nothing yet: a room that most fluids are in
    take(0);
    take(100);
  }
  const double edge = std::max(1.0, (*high - *low) * 0.05);
  const int most = std::clamp(static_cast<int>((height_ - 120) / kDegreeRow), 3, 12);
  low_ = *low - edge;
  high_ = *high + edge;
  degrees_ = round_ticks(low_, high_, most);
}

void CourseDrawing::name_things() {
  const std::string stroke = "fill=\"none\" stroke=\"currentColor\" ";
  const auto line = [&](const char* type, const std::string& look) {
    return "<path class=\"" + std::string(type) + "\" d=\"M0,0H22\" " + stroke + look + "/>";
  };
  if (!fluid_.empty()) names_.push_back({line("fluid", "stroke-width=\"2\""), "fluid, measured"});
  if (!by_hand_.empty())
    names_.push_back(
        {"<circle class=\"by-hand\" cx=\"11\" cy=\"0\" r=\"4\" " + stroke + "stroke-width=\"1.5\"/>",
         "fluid, read by hand"});
  if (!suspect_.empty())
    names_.push_back(
        {"<path class=\"suspect\" d=\"M8,-3l6,6m0,-6l-6,6\" " + stroke + "stroke-width=\"1.2\"/>",
         "fluid, suspect reading"});
  if (!coolant_.empty())
    names_.push_back(
        {line("coolant", "stroke-width=\"1\" stroke-dasharray=\"5 3\" stroke-opacity=\"0.7\""), "coolant"});
  if (window_)
    names_.push_back(
        {"<rect class=\"window-band\" x=\"0\" y=\"-5\" width=\"22\" height=\"10\" "
         "fill-opacity=\"0.15\" stroke=\"currentColor\" stroke-opacity=\"0.6\"/>",
         "window " + degrees(window_->low.value) + " to " + degrees(window_->high.value) + " " + unit()});
  if (decision_c_)
    names_.push_back({line("decision", "stroke-dasharray=\"2 3\""),
                      "decision point " + degrees(*decision_c_) + " " + unit()});
  if (fan_)
    names_.push_back(
        {"<path class=\"forecast\" d=\"M0,4L22,-6V4Z\" fill-opacity=\"0.3\"/>", "forecast, 8 in 10"});
  double used = left_;
  for (std::size_t i = 0; i < names_.size(); ++i) {
    const double needs = measure::kSample + 6 + pixels_of(names_[i].text) + measure::kBetween;
    if (legend_.empty() || used + needs > width_) {
      legend_.emplace_back();
      used = left_;
    }
    legend_.back().push_back(i);
    used += needs;
  }
}

void CourseDrawing::place_marks() {
  std::vector<CourseChart::Mark> marks;
  for (const CourseChart::Mark& mark : chart_.marks_)
    if (mark.at >= from_ && mark.at <= to_) marks.push_back(mark);
  std::stable_sort(marks.begin(), marks.end(), [](const auto& a, const auto& b) { return a.at < b.at; });
  for (const CourseChart::Mark& mark : marks) marks_.push_back({mark, 0, "middle", -1});
  // The plug gets the room first.
  std::vector<std::vector<std::pair<double, double>>> taken;
  for (const bool plug : {true, false})
    for (PlacedMark& one : marks_) {
      const bool of_plug =
          one.mark.kind == CourseChart::MarkKind::plug_out || one.mark.kind == CourseChart::MarkKind::plug_in;
      if (of_plug != plug) continue;
      const double length = pixels_of(text_of(one.mark.kind));
      const double at_x = x(one.mark.at);
      const double begin =
          std::clamp(at_x - length / 2, left_, std::max(left_, right_ + measure::kRight - length));
      for (std::size_t row = 0; row < measure::kMarkRows && one.row < 0; ++row) {
        if (row == taken.size()) taken.emplace_back();
        const bool free = std::none_of(taken[row].begin(), taken[row].end(), [&](const auto& other) {
          return begin < other.second + measure::kBetweenMarks &&
                 other.first < begin + length + measure::kBetweenMarks;
        });
        if (!free) continue;
        one.row = static_cast<int>(row);
        one.label_x = begin + length / 2;
        taken[row].emplace_back(begin, begin + length);
      }
    }
}

std::string CourseDrawing::described() const {
  std::string words =
      "From " + minutes(from_) + " to " + minutes(to_) + " minutes after the start of the job.";
  if (fluid_.empty() && by_hand_.empty()) words += " No reading of the fluid.";
  const auto range = [&](const char* what, const std::vector<Piece>& pieces) {
    if (pieces.empty()) return;
    double low = pieces.front().low.value;
    double high = pieces.front().high.value;
    for (const Piece& piece : pieces) {
      low = std::min(low, piece.low.value);
      high = std::max(high, piece.high.value);
    }
    words += std::string(" ") + what + ": first " + degrees(pieces.front().first.value) + ", lowest " +
             degrees(low) + ", highest " + degrees(high) + ", last " + degrees(pieces.back().last.value) +
             " " + unit() + ".";
  };
  range("Fluid, measured", fluid_);
  range("Fluid, read by hand", by_hand_);
  range("Fluid, suspect readings", suspect_);
  range("Coolant", coolant_);
  if (window_)
    words +=
        " Window " + degrees(window_->low.value) + " to " + degrees(window_->high.value) + " " + unit() + ".";
  for (const PlacedMark& one : marks_)
    words += " " + std::string(text_of(one.mark.kind)) + " at " + minutes(one.mark.at) + ";";
  if (chart_.marks_left_out_ > 0)
    words += " " + std::to_string(chart_.marks_left_out_) + " older marks are left out.";
  return words;
}

std::string CourseDrawing::time_of_day(TimePoint at) const {
  return options_.clock != nullptr ? options_.clock(at) : utc_time_of_day(at);
}

}  // namespace sumplog
