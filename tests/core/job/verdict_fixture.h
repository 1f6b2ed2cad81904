#pragma once
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "core/item/json_line.h"
#include "core/job/watched_fluid.h"

namespace sumplog::testing {

/// A job up to the level check as the watch over the fluid sees it: twice a second every signal is read. `ready` brings it to where
/// the plug may come out; each test breaks one thing.
class VerdictTest : public WatchedFluid {
 protected:
  VerdictTest() {
    service_.id = "demo-9";
    service_.window = invented(TemperatureWindow{{35}, {45}});
    service_.decision_point = invented(Celsius{40});
    service_.start_limit = invented(Celsius{30});
    service_.settling_time = invented(Duration{60s});
    service_.engine = invented(EngineState::running);
    service_.idle = invented(IdleBand{600, 900});
    service_.vehicle = invented(VehicleState::standing);
    service_.selector = invented(std::vector<std::string>{"P", "N"});
    service_.selector_cycle = invented(std::vector<SelectorHold>{{"R", 3s}, {"D", 3s}});
    service_.criterion = invented(std::string("drip"));
    service_.by_hand = invented(std::vector<std::string>{"car level"});
  }

  template <class T>
  static Sourced<T> invented(T value) {
    return {std::move(value), Origin::invented, {}, 0};
  }

  void use(std::optional<TemperatureWindow> window = TemperatureWindow{{35}, {45}}) {
    JobConfiguration c;
    c.service = service_;
    c.window = window;
    c.no_window_why = "no window is set";
    Decoder decoder;
    decoder.signals.emplace_back();
    decoder.signals.back().name = "fluid_temperature";
    decoder.signals.back().origin = decoder_origin_;
    c.decoders.push_back(std::move(decoder));
    watch_.emplace(std::move(c));
    events_.clear();
    fluid_c_ = 20;
  }

  Origin decoder_origin_ = Origin::invented;  ///< of what reads the fluid temperature; before use()

  void codes(std::vector<CodeLine> lines = {}) {
    CodesEvent codes;
    codes.at = now_;
    codes.bus = BusName("can0");
    codes.ecu = "7E9";
    codes.service = "19 02";
    codes.codes = std::move(lines);
    watch_->on_codes(codes);
    watch_->update(now_, events_);
  }
  /// What is read twice a second for so long; `fluid_c_` goes on with its rate.
  struct Car {
    std::optional<double> rpm = 700;
    std::optional<double> km_h = 0;
    std::string selector = "P";
    bool fluid = true;       ///< the unit answers about the fluid
    bool neighbours = true;  ///< and about everything else
    double coolant_c = 40;
    double c_per_min = 2;
  };
  void drive(Duration d, const Car& car) {
    for (Duration gone{}; gone < d; gone += 500ms) {
      if (car.neighbours) {
        reading("engine_speed", car.rpm, "", "7E8");
        reading("vehicle_speed", car.km_h, "", "7E8");
        reading("coolant_temperature", car.coolant_c, "", "7E8");
        reading("selector_position", 0, car.selector);
      }
      if (car.fluid) reading("fluid_temperature", std::round(fluid_c_));
      fluid_c_ += car.c_per_min / 120;
      wait(500ms);
    }
  }
  void drive(Duration d) { drive(d, Car{}); }

  // The preparation, in parts.
  void soak() {
    reading("ambient_temperature", 20, "", "7E8");
    Car cold;
    cold.rpm = 0;
    cold.coolant_c = 20;
    cold.c_per_min = 0;
    drive(10s, cold);
  }
  void confirm() {
    entry("confirmed", R"({"what":"window"})");
    entry("confirmed", R"({"what":"decoder"})");
    entry("condition_ticked", R"({"condition":"car level"})");
  }
  void cycle() {
    for (const char* position : {"R", "D"}) {
      Car car;
      car.selector = position;
      drive(4s, car);
    }
  }
  void warm(double to_c, double c_per_min = 6) {
    Car car;
    car.c_per_min = c_per_min;
    while (fluid_c_ < to_c) drive(500ms, car);
  }
  /// Everything but the warm-up.
  void prepare() {
    use();
    soak();
    codes();
    confirm();
  }
  void warm_up_with_cycle() {
    warm(30);
    cycle();
    warm(37);
  }
  void ready() {
    prepare();
    warm_up_with_cycle();
    drive(10s);
  }
  /// Ready, and then the unit answers no more about the fluid.
  Car ready_then_silent() {
    ready();
    Car silent;
    silent.fluid = false;
    drive(10s, silent);
    return silent;
  }
  void read_by_hand(double value_c) { entry("reading_by_hand", R"({"value_c":)" + fixed(value_c, 1) + "}"); }
  /// Plug out, so long, plug in.
  void check(Duration lasts = 60s) {
    entry("plug_out");
    drive(lasts);
    entry("plug_in");
  }

  VerdictEvent verdict() const {
    const auto found = all<VerdictEvent>();
    if (found.empty()) {
      ADD_FAILURE() << "no verdict";
      return {};
    }
    return found.back();
  }
  std::vector<std::string> why() const { return verdict().why; }

  ServiceFile service_;
  double fluid_c_ = 20;
};

}  // namespace sumplog::testing
