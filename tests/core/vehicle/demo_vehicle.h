#pragma once
#include <gtest/gtest.h>

#include <cstdint>
#include <string>
#include <vector>

#include "core/item/json_line.h"
#include "core/vehicle/scenario.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog::testing_vehicle {

/// An engine on 7E0 and a transmission on 7E1, as the demo family has them; `more` is added at the end.
inline std::string scenario_text(const std::string& more = {}, const std::string& bus = {}) {
  return R"(format = 1
title = "test"
lasts_s = 600
[bus]
)" + bus +
         R"(
[vehicle]
ambient_c = 20
fluid_c = 36
coolant_c = 83
engine = "running"
[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
pids = [0x05, 0x0C, 0x0D, 0x0F, 0x11, 0x5C]
tells_vin = true
name = "ECM-EngineControl"
[[ecu.calibration]]
id = "CALID-0123456789"
cvn = 0x1791BC82
[[ecu]]
id = "transmission"
request = 0x7E1
response = 0x7E9
pids = [0x0D, 0xA4]
name = "TCM-TransmissionCtl"
[[ecu.did]]
did = 0x1A05
signal = "fluid_temperature"
offset = -40
no_value = 0xFF
[[ecu.did]]
did = 0x1A07
refuse = 0x7F
)" + more;
}

inline Scenario scenario_of(const std::string& text) {
  auto scenario = parse_scenario(text, "scenario.toml");
  if (!scenario) {
    ADD_FAILURE() << scenario.error().text();
    return {};
  }
  return *scenario;
}

inline std::vector<std::uint8_t> bytes_of(std::string_view hex) {
  std::vector<std::uint8_t> bytes;
  std::string digits;
  for (const char c : hex) {
    if (c != ' ') digits += c;
    if (digits.size() == 2) {
      bytes.push_back(static_cast<std::uint8_t>(std::stoul(digits, nullptr, 16)));
      digits.clear();
    }
  }
  EXPECT_TRUE(digits.empty()) << hex;
  return bytes;
}

/// "7E8 06 41 00 …" without blanks between the bytes: "7E8#064100…".
inline std::string text_of_frame(const CanFrame& frame) {
  return ecu_text(frame.id) + "#" + hex_text(frame.data().data(), frame.data().size());
}

/// A person with a bus port in front of the simulated vehicle.
class Bench {
 public:
  explicit Bench(const std::string& text) : Bench(scenario_of(text)) {}
  explicit Bench(const Scenario& scenario)
      : bus(scenario.bus, scenario.rates, scenario.start),
        vehicle(scenario, scenario.start),
        start(scenario.start) {
    bus.attach(vehicle);
    bus.attach(port);
  }
  void send(CanId id, std::string_view hex) {
    const auto bytes = bytes_of(hex);
    port.send(data_frame(bus.now(), {}, id, bytes));
  }
  void send(std::uint32_t id, std::string_view hex) { send(standard_id(id), hex); }
  void wait(Duration duration) { bus.run_until(bus.now() + duration); }
  /// What the vehicle said since the last call; requests on 7DF and 7E0…7E7 are left out.
  std::vector<std::string> heard() {
    std::vector<std::string> texts;
    for (const CanFrame& frame : port.take_heard()) {
      const bool request =
          !frame.id.extended && (frame.id.value == 0x7DF || (frame.id.value & 0x7F8U) == 0x7E0);
      if (!request) texts.push_back(text_of_frame(frame));
    }
    return texts;
  }

  BusPort port;
  VirtualBus bus;
  Vehicle vehicle;
  TimePoint start;
};

}  // namespace sumplog::testing_vehicle
