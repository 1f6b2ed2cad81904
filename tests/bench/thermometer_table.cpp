// Feeds a table of readings to the thermometer and writes what it says after each reading: for judging it on
// series whose truth is known. On standard error: microseconds for each reading, and its size.
//   thermometer_table --step 1 --rounding round --window 35:45 --min-stay 120 < readings.csv > said.csv
// With --grid S a line comes every S seconds instead, advanced by the forecast where no reading came.
// Columns in: t_s,temp_c and, where they are, speed_kmh and event (engine_started, selector_moved, …).

#include <chrono>
#include <cstdio>
#include <iostream>
#include <map>
#include <string>

#include "bench/series.h"
#include "core/thermal/thermometer.h"
#include "core/thermal/vehicle_motion.h"

namespace {

using namespace sumplog;

const std::map<std::string, Announcement> kEvents{{"engine_started", Announcement::engine_started},
                                                  {"engine_stopped", Announcement::engine_stopped},
                                                  {"selector_moved", Announcement::selector_moved},
                                                  {"vehicle_stopped", Announcement::vehicle_stopped},
                                                  {"vehicle_drove_off", Announcement::vehicle_drove_off},
                                                  {"fluid_added", Announcement::fluid_added},
                                                  {"gap", Announcement::gap}};

struct Options {
  ThermometerConfig thermometer;
  double grid_s = 0;  ///< 0: after each reading
};

/// Options by name; nothing: the call is wrong.
std::optional<Options> configuration(int argc, char** argv) {
  Options out;
  ThermometerConfig& config = out.thermometer;
  config.minimum_stay = std::chrono::seconds{120};
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string name = argv[i];
    const std::string value = argv[i + 1];
    const auto number = bench::number_of(value);
    if (name == "--step" && number && *number > 0) {
      config.step.value = *number;
    } else if (name == "--grid" && number && *number > 0) {
      out.grid_s = *number;
    } else if (name == "--min-stay" && number) {
      config.minimum_stay = Duration{std::llround(*number * 1e6)};
    } else if (name == "--rounding") {
      config.rounding = value == "round"   ? Rounding::round
                        : value == "floor" ? Rounding::floor
                                           : Rounding::unknown;
    } else if (name == "--window") {
      const std::size_t colon = value.find(':');
      const auto low = bench::number_of(value.substr(0, colon));
      const auto high = colon == std::string::npos ? std::nullopt : bench::number_of(value.substr(colon + 1));
      if (!low || !high || *low >= *high) return std::nullopt;
      config.window = TemperatureWindow{{*low}, {*high}};
    } else {
      return std::nullopt;
    }
  }
  return out;
}

void print(double value) {
  std::printf(",%.6g", value);
}
void print(const std::optional<Quantiles>& q) {
  for (const std::size_t i : {1, 0, 2}) {
    if (!q)
      std::printf(",");
    else if ((*q)[i])
      print(*(*q)[i]);
    else
      std::printf(",inf");
  }
}

void print(double t_s, const ThermalEstimate& e) {
  std::printf("%.3f", t_s);
  print(e.temperature.value);
  for (const auto& rate : {e.rate, e.rate_low, e.rate_high}) {
    if (rate)
      print(rate->value);
    else
      std::printf(",");
  }
  print(e.enter_in_s);
  print(e.stay_s);
  std::printf(",%d,%d,%d,%d,%d", e.side == WindowState::inside ? 1 : 0, e.fast ? 1 : 0, e.frozen ? 1 : 0,
              e.substitute ? 1 : 0, e.irregular ? 1 : 0);
  print(e.inside.value_or(0));
  if (e.announce_in_s && *e.announce_in_s)
    print(**e.announce_in_s);
  else
    std::printf(e.announce_in_s ? ",inf" : ",");
  std::printf("\n");
}

}  // namespace

int main(int argc, char** argv) {
  const auto options = configuration(argc, argv);
  if (!options) {
    std::fprintf(
        stderr,
        "usage: %s --step C --rounding round|floor|unknown --window LOW:HIGH --min-stay S [--grid S]\n",
        argv[0]);
    return 2;
  }
  const auto rows = bench::read_series(std::cin);
  Thermometer thermometer(options->thermometer);
  VehicleMotion motion;
  std::printf(
      "t_s,temp_c,rate_c_per_min,rate_low,rate_high,enter_in_s,enter_low,enter_high,stay_s,stay_low,stay_"
      "high,"
      "estimate_inside,fast,frozen,substitute,irregular,inside,announce_in_s\n");
  std::chrono::steady_clock::duration spent{};
  std::size_t readings = 0;
  double next_s = rows.empty() ? 0 : std::ceil(rows.front().t_s);
  const auto say_before = [&](double t_s) {
    for (; options->grid_s > 0 && next_s < t_s; next_s += options->grid_s)
      if (const auto said = thermometer.estimate_at(at_micros(std::llround(next_s * 1e6))))
        print(next_s, *said);
  };
  for (const bench::Row& row : rows) {
    say_before(row.t_s);
    if (const auto known = kEvents.find(row.event); known != kEvents.end())
      thermometer.announce(known->second);
    if (row.speed_kmh)
      if (const auto what = motion.on_speed(row.at, *row.speed_kmh)) thermometer.announce(*what);
    if (!row.temp_c) continue;
    const auto begun = std::chrono::steady_clock::now();
    thermometer.on_reading(row.at, Celsius{*row.temp_c});
    spent += std::chrono::steady_clock::now() - begun;
    ++readings;
    if (options->grid_s == 0 && thermometer.estimate()) print(row.t_s, *thermometer.estimate());
  }
  if (!rows.empty()) say_before(rows.back().t_s + 1);
  const double us = std::chrono::duration<double, std::micro>(spent).count();
  std::fprintf(stderr, "%zu readings, %.2f us each, %.2f us a second of data, %zu bytes\n", readings,
               readings > 0 ? us / static_cast<double>(readings) : 0.0,
               rows.empty() ? 0.0 : us / std::max(1.0, rows.back().t_s - rows.front().t_s),
               sizeof(Thermometer));
}
