// A course as an SVG element: https://www.w3.org/TR/SVG2/
#include "core/drawing/course_drawing.h"
#include "core/drawing/markup.h"

namespace sumplog {

std::string CourseDrawing::take() {
  const std::string id = escaped(options_.id);
  out_ = "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"course\" role=\"img\" viewBox=\"0 0 " +
         fixed(width_, 0) + " " + fixed(height_, 0) + "\" width=\"" + fixed(width_, 0) + "\" height=\"" +
         fixed(height_, 0) + "\" font-family=\"sans-serif\" font-size=\"" + fixed(measure::kFont, 0) +
         "\" fill=\"currentColor\" aria-labelledby=\"" + id + "-title " + id + "-desc\">\n<title id=\"" + id +
         "-title\">" + escaped(options_.title) + "</title>\n<desc id=\"" + id + "-desc\">" +
         escaped(described()) + "</desc>\n<clipPath id=\"" + id + "-plot\"><rect x=\"" + px(left_) +
         "\" y=\"" + px(top_) + "\" width=\"" + px(right_ - left_) + "\" height=\"" + px(bottom_ - top_) +
         "\"/></clipPath>\n";
  draw_axes();
  out_ += "<g clip-path=\"url(#" + id + "-plot)\">\n";
  draw_window();
  draw_gaps();
  draw_line("coolant", "stroke-width=\"1\" stroke-dasharray=\"5 3\" stroke-opacity=\"0.7\"", coolant_);
  draw_fan();
  draw_line("fluid", "stroke-width=\"2\" stroke-linejoin=\"round\" stroke-linecap=\"round\"", fluid_);
  draw_points();
  out_ += "</g>\n";
  draw_marks();
  draw_legend();
  return std::move(out_) + "</svg>\n";
}

void CourseDrawing::draw_axes() {
  out_ += "<g class=\"grid\" stroke=\"currentColor\" stroke-opacity=\"0.15\">\n";
  for (const double value : degrees_.places)
    out_ += "<path d=\"M" + px(left_) + "," + px(y_shown(value)) + "H" + px(right_) + "\"/>\n";
  const int most = std::max(2, static_cast<int>((right_ - left_) / measure::kTimeLabel));
  const RoundTicks times = round_times(in_seconds(from_ - began_), in_seconds(to_ - began_), most);
  const auto time_of_place = [&](double s) { return began_ + Duration{std::llround(s * 1e6)}; };
  for (const double s : times.places)
    out_ += "<path d=\"M" + px(x(time_of_place(s))) + "," + px(top_) + "V" + px(bottom_) + "\"/>\n";
  out_ += "</g>\n<path class=\"axis\" d=\"M" + px(left_) + "," + px(top_) + "V" + px(bottom_) + "H" +
          px(right_) + "\" fill=\"none\" stroke=\"currentColor\"/>\n";
  for (const double value : degrees_.places)
    text(left_ - 6, y_shown(value) + 4, "tick", "end", fixed(value, degrees_.decimals));
  text(left_ - 6, top_ - 8, "unit", "end", unit());
  for (const double s : times.places) {
    const double at_x = x(time_of_place(s));
    text(at_x, bottom_ + measure::kRow, "tick", "middle", minutes_text(s, times.step));
    text(at_x, bottom_ + 2 * measure::kRow, "clock", "middle", time_of_day(time_of_place(s)));
  }
  text(2, bottom_ + measure::kRow, "unit", "start", "min");
}

void CourseDrawing::draw_window() {
  if (!window_) return;
  const double top = y(window_->high.value);
  out_ += "<rect class=\"window-band\" x=\"" + px(left_) + "\" y=\"" + px(top) + "\" width=\"" +
          px(right_ - left_) + "\" height=\"" + px(y(window_->low.value) - top) +
          "\" fill-opacity=\"0.15\" stroke=\"currentColor\" stroke-opacity=\"0.6\"/>\n";
  if (decision_c_)
    out_ += "<path class=\"decision\" d=\"M" + px(left_) + "," + px(y(*decision_c_)) + "H" + px(right_) +
            "\" fill=\"none\" stroke=\"currentColor\" stroke-dasharray=\"2 3\"/>\n";
}

/// Where the fluid was not read there is nothing to draw, and that is said.
void CourseDrawing::draw_gaps() {
  for (std::size_t i = 1; i < fluid_.size(); ++i)
    if (!fluid_[i].joined) draw_gap(fluid_[i - 1].last.at, fluid_[i].first.at);
  if (fluid_.empty() || options_.to) return;
  const TimePoint end = std::max(chart_.last_.value_or(from_), options_.now.value_or(from_));
  if (end - fluid_.back().last.at > chart_.configuration().fresh) draw_gap(fluid_.back().last.at, end);
}

void CourseDrawing::draw_gap(TimePoint begin, TimePoint end) {
  const double width = x(end) - x(begin);
  if (width < measure::kSeenGap) return;
  out_ += "<rect class=\"no-reading\" x=\"" + px(x(begin)) + "\" y=\"" + px(top_) + "\" width=\"" +
          px(width) + "\" height=\"" + px(bottom_ - top_) + "\" fill-opacity=\"0.07\"/>\n";
  if (width >= measure::kNamedGap)
    text((x(begin) + x(end)) / 2, bottom_ - 6, "no-reading-text", "middle", "no reading");
}

/// A gap ends the line; a point alone is a dot.
void CourseDrawing::draw_line(const char* type, const std::string& look, const std::vector<Piece>& pieces) {
  std::string path;
  for (const Piece& piece : pieces) {
    const bool low_first = piece.low.at <= piece.high.at;
    const Point points[] = {piece.first, low_first ? piece.low : piece.high,
                            low_first ? piece.high : piece.low, piece.last};
    bool joined = piece.joined && !path.empty();
    const Point* before = nullptr;
    for (const Point& point : points) {
      if (before != nullptr && before->at == point.at && before->value == point.value) continue;
      path += (joined ? "L" : "M") + at(point.at, point.value);
      if (!joined) path += "h0";  // with round ends
      before = &point;
      joined = piece.whole;
    }
  }
  if (path.empty()) return;
  out_ += "<path class=\"" + std::string(type) + "\" d=\"" + path +
          "\" fill=\"none\" stroke=\"currentColor\" " + look + "/>\n";
}

void CourseDrawing::draw_fan() {
  if (!fan_) return;
  const auto path = [&](const std::vector<Point>& points) {
    std::string d;
    for (const Point& point : points) d += (d.empty() ? "M" : "L") + at(point.at, point.value);
    return d;
  };
  out_ += "<path class=\"forecast\" d=\"" + path(fan_->outline) + "Z\" fill-opacity=\"0.3\"/>\n";
  out_ += "<path class=\"forecast-likely\" d=\"" + path(fan_->likely) +
          "\" fill=\"none\" stroke=\"currentColor\" stroke-dasharray=\"6 4\"/>\n";
}

/// Of one slice of time the lowest and the highest: the shape says what kind of reading it is.
void CourseDrawing::draw_points() {
  const auto each = [&](const std::vector<Piece>& pieces, auto draw) {
    for (const Piece& piece : pieces) {
      draw(piece.low);
      if (piece.high.value != piece.low.value) draw(piece.high);
    }
  };
  each(by_hand_, [&](const Point& point) {
    out_ += "<circle class=\"by-hand\" cx=\"" + px(x(point.at)) + "\" cy=\"" + px(y(point.value)) +
            "\" r=\"4\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"/>\n";
  });
  each(suspect_, [&](const Point& point) {
    out_ += "<path class=\"suspect\" d=\"M" + px(x(point.at) - 3) + "," + px(y(point.value) - 3) +
            "l6,6m0,-6l-6,6\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.2\"/>\n";
  });
}

void CourseDrawing::draw_marks() {
  const auto label_y = [&](const PlacedMark& one) { return top_ - 6 - one.row * measure::kRow; };
  for (const PlacedMark& one : marks_) {
    const std::string name(text_of(one.mark.kind));
    std::string type = name;
    std::replace(type.begin(), type.end(), ' ', '-');
    const double from_y = one.row < 0 ? top_ : label_y(one) + 3;
    const bool plug = type.starts_with("plug");
    out_ += "<g class=\"mark ";
    out_ += type;
    out_ += "\"><title>";
    out_ += name;
    out_ += ", " + minutes(one.mark.at) + " min, " + escaped(time_of_day(one.mark.at));
    out_ += "</title><path d=\"M" + px(x(one.mark.at)) + "," + px(from_y) + "V" + px(bottom_) +
            "\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"" + (plug ? "1.5" : "1") + "\"" +
            (plug ? "" : " stroke-dasharray=\"1 3\"") + "/>";
    out_ += "</g>\n";
  }
  for (const PlacedMark& one : marks_)  // over all lines
    if (one.row >= 0)
      text(one.label_x, label_y(one), "mark-text", "middle", std::string(text_of(one.mark.kind)));
}

void CourseDrawing::draw_legend() {
  double at_y = bottom_ + measure::kAxisRows + measure::kRow * 0.6;
  for (const std::vector<std::size_t>& row : legend_) {
    double at_x = left_;
    for (const std::size_t i : row) {
      const Named& named = names_[i];
      out_ += "<g class=\"legend\" transform=\"translate(" + px(at_x) + "," + px(at_y) + ")\">" +
              named.shape + "<text x=\"" + px(measure::kSample + 6) + "\" y=\"4\">" + escaped(named.text) +
              "</text></g>\n";
      at_x += measure::kSample + 6 + pixels_of(named.text) + measure::kBetween;
    }
    at_y += measure::kRow;
  }
}

void CourseDrawing::text(double at_x, double at_y, const char* type, const char* anchor,
                         const std::string& words) {
  out_ += "<text class=\"" + std::string(type) + "\" x=\"" + px(at_x) + "\" y=\"" + px(at_y) +
          "\" text-anchor=\"" + anchor + "\">" + escaped(words) + "</text>\n";
}

std::string CourseChart::svg(const CourseOptions& options) const {
  return CourseDrawing(*this, options).take();
}

}  // namespace sumplog
