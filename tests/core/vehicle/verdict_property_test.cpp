// Over many random jobs: a verdict `kept` never stands beside a stretch in which the simulated truth was otherwise.
#include <gtest/gtest.h>

#include <cmath>

#include "core/vehicle/random.h"
#include "core/vehicle/whole_job.h"

namespace sumplog::testing {
namespace {

using namespace std::chrono_literals;

constexpr double kLow_c = 35;  // of demo-9
constexpr double kHigh_c = 45;
constexpr double kStep_c = 1;        // of its sensor
constexpr Duration kFresh = 3s;      // so long a reading stands for what comes after it
constexpr double kRunningRpm = 350;  // of an engine that runs by itself

struct Truth {
  TimePoint at{};
  double fluid_c = 0;
  double rpm = 0;
};

/// One job of ten minutes: warm-up, selector cycle, scan, a level check at a random moment, and what may go wrong.
class RandomJob {
 public:
  explicit RandomJob(std::uint64_t seed) : random_(seed), scenario_(scenario_from(text())) {
    scenario_.seed = seed;
    scenario_.thermal.warmer_w_per_k = pick(0, 150);
    scenario_.temperatures.coolant.value = pick(20, 80);
    scenario_.sensor_noise.value = random_.below(4) == 0 ? pick(0, 0.6) : 0;
    plug_out_s_ = pick(70, 420);
    const double plug_in_s = plug_out_s_ + pick(5, 150);
    const double late_s = random_.below(3) == 0 ? std::floor(pick(1, 60)) : 0;
    enters(scenario_, plug_out_s_, "plug_out");
    enters(scenario_, std::min(plug_in_s + late_s, 599.0), "plug_in",
           R"({"ago_s":)" + std::to_string(late_s) + "}");
    for (std::uint64_t troubles = random_.below(3); troubles > 0; --troubles) trouble();
  }

  void run() {
    SimulatedJob job(scenario_, kJobStart, whole_job_opening(),
                     [](const Item& item) -> Result<Item> { return item; });
    std::vector<Event> events;
    while (true) {
      events.clear();
      const auto more = job.step(events);
      ASSERT_TRUE(more);
      const Drivetrain& drivetrain = job.vehicle().drivetrain();
      truth_.push_back(
          {job.now(), drivetrain.temperatures().fluid.value, drivetrain.value(Quantity::engine_speed)});
      for (const Event& event : events)
        if (const auto* verdict = std::get_if<VerdictEvent>(&event)) verdicts_.push_back(*verdict);
      if (!*more) return;
    }
  }

  [[nodiscard]] const std::vector<VerdictEvent>& verdicts() const { return verdicts_; }

  /// The longest stretch between plug out and plug in in which the truth was otherwise.
  template <class Otherwise>
  [[nodiscard]] Duration longest(const VerdictEvent& verdict, Otherwise otherwise) const {
    Duration longest{};
    std::optional<TimePoint> since;
    for (const Truth& one : truth_) {
      if (one.at < verdict.out || one.at > verdict.in) continue;
      if (!otherwise(one))
        since.reset();
      else if (!since)
        since = one.at;
      if (since) longest = std::max(longest, one.at - *since);
    }
    return longest;
  }

 private:
  static std::string text() {
    return R"(format = 1
title = "random level check"
lasts_s = 600
entry = [
  { at_s = 2, name = "confirmed", fields = { what = "window" } },
  { at_s = 2, name = "confirmed", fields = { what = "decoder" } },
  { at_s = 2, name = "confirmed", fields = { what = "thermometer" } },
  { at_s = 3, name = "scan", fields = { scan = "before" } },
]
event = [
  { at_s = 5, what = "engine_on" },
  { at_s = 12, what = "selector", position = "R" },
  { at_s = 17, what = "selector", position = "N" },
  { at_s = 22, what = "selector", position = "D" },
  { at_s = 27, what = "selector", position = "P" },
]
[bus]
[vehicle]
ambient_c = 20
fluid_c = 33
case_c = 33
[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
pids = [0x01, 0x05, 0x0C, 0x0D]
[ecu.memory]
services = ["J1979"]
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x01]
[ecu.memory]
services = ["J1979", "ISO 14229"]
[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
no_value = 0xFF
[[ecu.did]]
did = 0x1A06
signal = "selector_position"
codes = [0, 1, 2, 3]
)";
  }
  double pick(double low, double high) {
    constexpr std::uint64_t kParts = 1'000'000;
    return low + (high - low) * static_cast<double>(random_.below(kParts)) / kParts;
  }
  /// Something goes wrong around the check, and is right again after a while.
  void trouble() {
    const double at = plug_out_s_ + pick(-20, 120);
    const double back = std::min(at + pick(0.5, 25), 599.0);
    switch (random_.below(6)) {
      case 0:
        happens(scenario_, at, VehicleChange{EngineChange{false}});
        return happens(scenario_, back, VehicleChange{EngineChange{true}});
      case 1:
        happens(scenario_, at, VehicleChange{SensorChange{SensorState::dead, {}}});
        return happens(scenario_, back, VehicleChange{SensorChange{SensorState::works, {}}});
      case 2:
      case 3: {
        const std::size_t unit = random_.below(2);
        happens(scenario_, at, UnitChange{unit, SilenceChange{true}});
        return happens(scenario_, back, UnitChange{unit, SilenceChange{false}});
      }
      case 4:
        happens(scenario_, at, TesterChange{LinkChange{LinkState::gone}});
        return happens(scenario_, back, TesterChange{LinkChange{LinkState::up}});
      default:
        happens(scenario_, at, VehicleChange{EngineSpeedChange{pick(400, 3000)}});
        return happens(scenario_, back, VehicleChange{EngineSpeedChange{}});
    }
  }

  Random random_;
  Scenario scenario_;
  double plug_out_s_ = 0;
  std::vector<Truth> truth_;
  std::vector<VerdictEvent> verdicts_;
};

TEST(VerdictProperty, KeptNeverStandsBesideATruthThatWasOtherwise) {
  std::size_t kept = 0;
  std::size_t not_kept = 0;
  for (std::uint64_t seed = 1; seed <= 60; ++seed) {
    SCOPED_TRACE("seed " + std::to_string(seed));
    RandomJob job(seed);
    job.run();
    for (const VerdictEvent& verdict : job.verdicts()) {
      ++(verdict.kept ? kept : not_kept);
      EXPECT_EQ(verdict.kept, verdict.why.empty());
      if (!verdict.kept) continue;
      const Duration outside = job.longest(verdict, [](const Truth& one) {
        return one.fluid_c < kLow_c - kStep_c || one.fluid_c > kHigh_c + kStep_c;
      });
      EXPECT_EQ(outside, Duration{0}) << "outside of the window by more than the sensor's step";
      const Duration off = job.longest(verdict, [](const Truth& one) { return one.rpm < kRunningRpm; });
      EXPECT_LE(off, kFresh) << "the engine was off for longer than a reading is live";
    }
  }
  // Neither is rare, or this shows nothing.
  EXPECT_GT(kept, 8U);
  EXPECT_GT(not_kept, 8U);
}

}  // namespace
}  // namespace sumplog::testing
