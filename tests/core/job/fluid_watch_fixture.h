#pragma once
#include <optional>
#include <string>
#include <utility>

#include "core/job/watched_fluid.h"

namespace sumplog::testing {

inline const BusName kBus("can0");

class FluidWatchTest : public WatchedFluid {
 protected:
  FluidWatchTest() { use(TemperatureWindow{{35}, {45}}); }
  void use(std::optional<TemperatureWindow> window) {
    JobConfiguration c;
    c.window = window;
    if (!window) c.no_window_why = "no window is set";
    watch_.emplace(std::move(c));
  }

  void reading(std::optional<double> value, std::string why = "", std::string ecu = "7E9",
               BusName bus = kBus) {
    ReadingEvent r;
    r.bus = bus;
    r.ecu = std::move(ecu);
    r.signal = "fluid_temperature";
    r.value = value;
    r.unit = "degC";
    r.why = std::move(why);
    read(std::move(r));
  }
  void link(LinkState state, BusName bus = kBus) {
    watch_->on_link(bus, state);
    watch_->update(now_, events_);
  }
  void readings(double value, int count) {
    for (int i = 0; i < count; ++i) {
      wait(500ms);
      reading(value);
    }
  }
};

}  // namespace sumplog::testing
