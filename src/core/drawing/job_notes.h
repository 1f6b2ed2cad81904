#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/journal/event.h"

namespace sumplog {

/// What the technician's pages list beside the record of a job, in the order in which it came. Each list keeps its newest
/// kMost; how many older ones are left out is counted.
class JobNotes {
 public:
  static constexpr std::size_t kMost = 200;

  template <class T>
  struct Newest {
    std::vector<T> items;
    std::uint64_t left_out = 0;
    void add(const T& item) {
      if (items.size() == kMost) {
        items.erase(items.begin());
        ++left_out;
      }
      items.push_back(item);
    }
  };
  struct Tick {
    TimePoint at{};
    std::string what;  ///< "window confirmed", "level in both axes: holds"
    std::string by;
  };
  struct HandReading {
    TimePoint at{};
    double value_c = 0;
    std::string place;
  };
  struct Loss {
    std::string ecu;
    std::string why;
    std::uint64_t times = 0;
    std::uint64_t frames = 0;
    TimePoint first{};
    TimePoint last{};
  };

  void on_event(const Event& event);

  [[nodiscard]] const Newest<CheckEvent>& checks() const { return checks_; }
  [[nodiscard]] const Newest<HoldEvent>& holds() const { return holds_; }
  [[nodiscard]] const Newest<HandReading>& hand_readings() const { return hand_readings_; }
  [[nodiscard]] const Newest<Tick>& ticks() const { return ticks_; }
  [[nodiscard]] const Newest<GapEvent>& gaps() const { return gaps_; }
  [[nodiscard]] const Newest<ClockEvent>& clock_steps() const { return clock_steps_; }
  /// Each kind once; of kMost kinds at most, the rest is counted together.
  [[nodiscard]] const std::vector<Loss>& losses() const { return losses_; }

 private:
  void on_entry(const EntryEvent& event);
  void on_loss(const LossEvent& event);

  Newest<CheckEvent> checks_;  ///< those whose state or reasons are others than before
  Newest<HoldEvent> holds_;
  Newest<HandReading> hand_readings_;
  Newest<Tick> ticks_;
  Newest<GapEvent> gaps_;
  Newest<ClockEvent> clock_steps_;
  std::vector<Loss> losses_;
};

}  // namespace sumplog
