// Judges the intervals of the thermometer on real series, where the truth is the series itself: whenever the
// reading first reaches a level (below 80 °C), two seconds later, the time until the reading first shows a level
// 5, 3 and 1 °C higher is compared with what was said. At least 60 s after the beginning, true times of 5 s and more.
//   dense_points --rounding round FILE.csv ...
// Columns: t_s,temp_c and, where they are, speed_kmh. Prints coverage and errors for each file and for all.

#include <algorithm>
#include <array>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

#include "bench/series.h"
#include "core/thermal/thermometer.h"
#include "core/thermal/vehicle_motion.h"

namespace {

using namespace sumplog;

constexpr std::array<double, 3> kAhead_c{5, 3, 1};
constexpr double kHottest_c = 80;
constexpr double kEarliest_s = 60;
constexpr double kShortest_s = 5;
constexpr double kLook_s = 2;    // after the level was reached
constexpr double kWidth_c = 10;  // of the window that is asked for; only its near edge counts
constexpr double kTolerance_s = 0.5;

struct Point {
  double ahead_c = 0;
  double truth_s = 0;
  Quantiles said;
};

struct Options {
  double step_c = 1;
  Rounding rounding = Rounding::round;
  bool with_speed = true;
};

/// When the reading first reached each level, from the coldest to the hottest.
std::vector<std::pair<double, double>> levels(const std::vector<bench::Row>& rows) {
  std::vector<std::pair<double, double>> reached;
  for (const bench::Row& row : rows) {
    if (!row.temp_c) continue;
    if (reached.empty()) reached.emplace_back(std::floor(*row.temp_c), row.t_s);
    while (*row.temp_c >= reached.back().first + 1) reached.emplace_back(reached.back().first + 1, row.t_s);
  }
  return reached;
}

/// What the thermometer said about the way to `target_c` at `when_s`.
std::optional<Quantiles> said_at(const std::vector<bench::Row>& rows, double target_c, double when_s,
                                 const Options& options) {
  ThermometerConfig config;
  config.step.value = options.step_c;
  config.rounding = options.rounding;
  // The reading shows the target when the fluid is at the lower edge of the target's cell.
  const double edge = SensorCell{target_c, options.step_c, options.rounding}.low_c();
  config.window = TemperatureWindow{{edge}, {edge + kWidth_c}};
  Thermometer thermometer(config);
  VehicleMotion motion;
  for (const bench::Row& row : rows) {
    if (row.t_s > when_s) break;
    if (options.with_speed && row.speed_kmh)
      if (const auto what = motion.on_speed(row.at, *row.speed_kmh)) thermometer.announce(*what);
    if (row.temp_c) thermometer.on_reading(row.at, Celsius{*row.temp_c});
  }
  if (!thermometer.estimate()) return std::nullopt;
  return thermometer.estimate()->enter_in_s;
}

std::vector<Point> points(const std::vector<bench::Row>& rows, const Options& options) {
  std::vector<Point> all;
  const auto reached = levels(rows);
  for (std::size_t i = 1; i < reached.size(); ++i) {
    const auto [level, at_s] = reached[i];
    const double when_s = at_s + kLook_s;
    if (level >= kHottest_c || at_s - rows.front().t_s < kEarliest_s) continue;
    for (const double ahead : kAhead_c) {
      const auto target = std::find_if(reached.begin(), reached.end(),
                                       [&](const auto& one) { return one.first == level + ahead; });
      if (target == reached.end() || target->second - when_s < kShortest_s) continue;
      if (const auto said = said_at(rows, level + ahead, when_s, options))
        all.push_back({ahead, target->second - when_s, *said});
    }
  }
  return all;
}

double median(std::vector<double> values) {
  if (values.empty()) return 0;
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

void report(const std::string& name, const std::vector<Point>& all) {
  int held = 0;
  int early = 0;
  int late = 0;
  std::vector<double> width;
  std::array<std::vector<double>, kAhead_c.size()> errors;
  for (const Point& p : all) {
    const double low = p.said[0].value_or(1e9);
    const double high = p.said[2].value_or(1e9);
    if (p.truth_s < low - kTolerance_s)
      ++early;
    else if (p.truth_s > high + kTolerance_s)
      ++late;
    else
      ++held;
    width.push_back((high - low) / p.truth_s);
    for (std::size_t i = 0; i < kAhead_c.size(); ++i)
      if (p.ahead_c == kAhead_c[i])
        errors[i].push_back(100 * std::abs(p.said[1].value_or(1e9) - p.truth_s) / p.truth_s);
  }
  const double n = std::max<double>(1, static_cast<double>(all.size()));
  std::printf(
      "%-40s %5zu points, held %3.0f %%, early %3.0f %%, late %3.0f %%, width %.2f, error at 5/3/1 °C "
      "%.0f/%.0f/%.0f %%\n",
      name.c_str(), all.size(), 100 * held / n, 100 * early / n, 100 * late / n, median(width),
      median(errors[0]), median(errors[1]), median(errors[2]));
}

}  // namespace

int main(int argc, char** argv) {
  Options options;
  std::vector<Point> all;
  int files = 0;
  for (int i = 1; i < argc; ++i) {
    const std::string word = argv[i];
    if (word == "--no-speed") {
      options.with_speed = false;
    } else if (word == "--rounding" && i + 1 < argc) {
      const std::string value = argv[++i];
      options.rounding = value == "round"   ? Rounding::round
                         : value == "floor" ? Rounding::floor
                                            : Rounding::unknown;
    } else if (word == "--step" && i + 1 < argc) {
      options.step_c = bench::number_of(argv[++i]).value_or(1);
    } else {
      std::ifstream in(word);
      if (!in) {
        std::fprintf(stderr, "%s: cannot be read\n", argv[i]);
        return 2;
      }
      const auto rows = bench::read_series(in);
      const auto found = rows.empty() ? std::vector<Point>{} : points(rows, options);
      report(word.substr(word.find_last_of('/') + 1), found);
      all.insert(all.end(), found.begin(), found.end());
      ++files;
    }
  }
  if (files == 0) {
    std::fprintf(stderr, "usage: %s [--step C] [--rounding round|floor|unknown] [--no-speed] FILE.csv ...\n",
                 argv[0]);
    return 2;
  }
  report("all", all);
}
