#pragma once
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/job/fluid_watch.h"

namespace sumplog::testing {

using namespace std::chrono_literals;

/// A watch over the fluid, what it is given and what it says, at a time of its own. watch_ is made by each test's fixture.
class WatchedFluid : public ::testing::Test {
 protected:
  void entry(const std::string& name, const std::string& fields = "{}") {
    watch_->on_entry(Entry{now_, std::to_string(++entries_), name, fields}, events_);
    watch_->update(now_, events_);
  }
  /// Of a unit that rounds to whole steps.
  void read(ReadingEvent reading) {
    reading.at = now_;
    reading.step = 1;
    reading.rounding = Rounding::round;
    if (!reading.value) reading.quality = Quality::suspect;
    watch_->on_reading(reading, events_);
    watch_->update(now_, events_);
  }
  void reading(const std::string& signal, std::optional<double> value, const std::string& label = "",
               const std::string& ecu = "7E9") {
    ReadingEvent one;
    one.bus = BusName("can0");
    one.ecu = ecu;
    one.signal = signal;
    one.value = value;
    one.label = label;
    if (!value) one.why = "not available";
    read(std::move(one));
  }
  /// Time passes; deadlines fire on the way.
  void wait(Duration d) {
    const TimePoint until = now_ + d;
    while (const auto due = watch_->deadline()) {
      if (*due > until) break;
      now_ = *due;
      watch_->update(now_, events_);
    }
    now_ = until;
  }

  template <class E>
  std::vector<E> all() const {
    std::vector<E> found;
    for (const Event& event : events_)
      if (const auto* one = std::get_if<E>(&event)) found.push_back(*one);
    return found;
  }
  template <class E>
  E last() const {
    const auto found = all<E>();
    EXPECT_FALSE(found.empty());
    return found.empty() ? E{} : found.back();
  }
  WindowState state() const {
    return all<WindowEvent>().empty() ? WindowState::unknown : last<WindowEvent>().to;
  }
  std::vector<std::string> cues() const {
    std::vector<std::string> names;
    for (const CueEvent& one : all<CueEvent>()) names.push_back(one.name);
    return names;
  }

  std::optional<FluidWatch> watch_;
  std::vector<Event> events_;
  TimePoint now_ = at_micros(1700000000000000);
  int entries_ = 0;
};

}  // namespace sumplog::testing
