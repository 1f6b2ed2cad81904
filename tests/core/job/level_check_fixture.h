#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "core/job/level_check.h"

namespace sumplog::testing {

using namespace std::chrono_literals;
using Texts = std::vector<std::string>;

inline constexpr TimePoint kStart = at_micros(1700000000000000);
inline constexpr Duration kFresh = 3s;

/// Every condition that a bus shows.
inline ServiceFile full_service() {
  ServiceFile s;
  s.settling_time = Sourced<Duration>{60s, Origin::invented, {}, 0};
  s.engine = Sourced<EngineState>{EngineState::running, Origin::invented, {}, 0};
  s.idle = Sourced<IdleBand>{{600, 900}, Origin::invented, {}, 0};
  s.vehicle = Sourced<VehicleState>{VehicleState::standing, Origin::invented, {}, 0};
  s.selector = Sourced<std::vector<std::string>>{{"P", "N"}, Origin::invented, {}, 0};
  s.selector_cycle = Sourced<std::vector<SelectorHold>>{{{"R", 3s}, {"D", 3s}}, Origin::invented, {}, 0};
  return s;
}

class LevelCheckTest : public ::testing::Test {
 protected:
  LevelCheckTest() { use(full_service()); }
  void use(std::optional<ServiceFile> service) { check_.emplace(std::move(service), kFresh); }

  void reading(std::string signal, std::optional<double> value, std::string label = "",
               std::string ecu = "7E8") {
    ReadingEvent r;
    r.at = now_;
    r.bus = BusName("can0");
    r.ecu = std::move(ecu);
    r.signal = std::move(signal);
    r.value = value;
    r.label = std::move(label);
    if (!value) r.quality = Quality::suspect;
    check_->on_reading(r, events_);
  }
  void window(WindowState state, const std::string& why = "", bool fast = false, bool exceeded = false) {
    check_->on_window(state, why, fast, false, exceeded);
  }
  void wait(Duration d) { now_ += d; }

  /// Everything is read once.
  void all(double rpm = 700, double speed = 0, std::string selector = "P") {
    reading("engine_speed", rpm);
    reading("vehicle_speed", speed);
    reading("selector_position", 0, std::move(selector));
  }
  /// Everything is read twice a second for as long as `d`, beginning now.
  void keep(Duration d, double rpm = 700, double speed = 0, const std::string& selector = "P") {
    for (Duration gone{}; gone < d; gone += 500ms) {
      all(rpm, speed, selector);
      wait(500ms);
    }
    all(rpm, speed, selector);
  }
  /// The whole preparation of the service file, so that the check may start.
  void prepare() {
    window(WindowState::inside);
    keep(4s, 700, 0, "R");
    keep(4s, 700, 0, "D");
    keep(60s);
  }
  CheckState state() const { return check_->judge(now_).state; }
  Texts why() const { return check_->judge(now_).why; }
  void expect(CheckState state, const Texts& reasons) const {
    const CheckEvent event = check_->judge(now_);
    EXPECT_EQ(event.state, state) << text_of(event.state);
    EXPECT_EQ(event.why, reasons);
  }

  std::optional<LevelCheck> check_;
  std::vector<Event> events_;
  TimePoint now_ = kStart;
};

}  // namespace sumplog::testing
