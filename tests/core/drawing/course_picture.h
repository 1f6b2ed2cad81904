#pragma once
#include <gtest/gtest.h>

#include <cstdlib>
#include <regex>
#include <string>
#include <vector>

#include "core/drawing/course_chart.h"

namespace sumplog::testing {

// A drawn course read back from its SVG text.

inline std::size_t count_of(const std::string& text, const std::string& what) {
  std::size_t count = 0;
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size()))
    ++count;
  return count;
}

/// The first element of that class inside the plot, as it stands.
inline std::string element_of(const std::string& svg, const std::string& type) {
  const std::size_t plot = svg.find("<g clip-path");
  const std::size_t at = svg.find("class=\"" + type + "\"", plot);
  const std::size_t legend = svg.find("class=\"legend\"");
  if (plot == std::string::npos || at == std::string::npos || at > legend) return {};
  const std::size_t begin = svg.rfind('<', at);
  return svg.substr(begin, svg.find('>', at) - begin + 1);
}

inline std::string attribute(const std::string& element, const std::string& name) {
  const std::size_t at = element.find(" " + name + "=\"");
  if (at == std::string::npos) return {};
  const std::size_t begin = at + name.size() + 3;
  return element.substr(begin, element.find('"', begin) - begin);
}
inline double number(const std::string& element, const std::string& name) {
  const std::string text = attribute(element, name);
  EXPECT_FALSE(text.empty()) << name << " of " << element;
  return std::atof(text.c_str());
}

struct Stroke {
  std::vector<std::pair<double, double>> points;
};
/// The strokes of a path: each M begins one.
inline std::vector<Stroke> strokes(const std::string& path) {
  std::vector<Stroke> all;
  const std::regex step("([ML])(-?[0-9.]+),(-?[0-9.]+)");
  for (std::sregex_iterator at(path.begin(), path.end(), step), end; at != end; ++at) {
    if ((*at)[1] == "M") all.emplace_back();
    all.back().points.emplace_back(std::stod((*at)[2]), std::stod((*at)[3]));
  }
  return all;
}

/// The labels of the axis of degrees: value and y of the line that each names.
inline std::vector<std::pair<double, double>> degree_labels(const std::string& svg) {
  const std::regex tick(
      "<text class=\"tick\" x=\"[0-9.]+\" y=\"([0-9.]+)\" text-anchor=\"end\">(-?[0-9.]+)</text>");
  std::vector<std::pair<double, double>> labels;
  for (std::sregex_iterator at(svg.begin(), svg.end(), tick), end; at != end; ++at)
    labels.emplace_back(std::stod((*at)[2]),
                        std::stod((*at)[1]) - 4);  // a label stands 4 pixels lower than its line
  return labels;
}

/// Where the axis says that a value lies, from its labels: y = a + b * value.
struct Axis {
  double a = 0, b = 0;
  [[nodiscard]] double at(double value) const { return a + b * value; }
};
inline Axis degrees_axis(const std::string& svg) {
  const auto labels = degree_labels(svg);
  EXPECT_GE(labels.size(), 2U) << svg;
  if (labels.size() < 2) return {};
  const auto [low, low_y] = labels.front();
  const auto [high, high_y] = labels.back();
  Axis axis;
  axis.b = (high_y - low_y) / (high - low);
  axis.a = low_y - axis.b * low;
  return axis;
}

inline constexpr TimePoint kChartStart = at_micros(1'700'000'000'000'000);

/// A chart that is fed by hand; times in seconds since the start.
class FedChart {
 public:
  explicit FedChart(const std::string& window = "35:45") {
    Settings settings{kChartStart, "0011", "test", "", {}};
    if (!window.empty()) settings.values.emplace_back("window", window);
    chart.on_item(settings);
  }
  static TimePoint at(double s) { return kChartStart + Duration{static_cast<Duration::rep>(s * 1e6)}; }
  void reading(double s, double value, Quality quality = Quality::measured,
               const std::string& signal = "fluid_temperature", const std::string& ecu = "7E9") {
    ReadingEvent event;
    event.at = at(s);
    event.signal = signal;
    event.value = value;
    event.ecu = quality == Quality::by_hand ? "by hand" : ecu;
    event.quality = quality;
    give(event);
  }
  /// A reading a second from `from` to `to`, both included, rising evenly.
  void readings(double from, double to, double first_c, double last_c) {
    for (double s = from; s <= to; s += 1)
      reading(s, first_c + (last_c - first_c) * (s - from) / (to - from));
  }
  void give(const Event& event) {
    chart.on_item(Advance{std::visit([](const auto& e) { return e.at; }, event)});
    chart.on_event(event);
  }
  [[nodiscard]] std::string svg(CourseOptions options = {}) const { return chart.svg(options); }

  CourseChart chart;
};

}  // namespace sumplog::testing
