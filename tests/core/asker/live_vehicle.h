#pragma once
#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "core/asker/asker.h"
#include "core/journal/flow_run.h"
#include "core/vehicle/simulated_job.h"
#include "core/vehicle/wire_time.h"

namespace sumplog::testing {

inline Scenario scenario_from(const std::string& text) {
  auto scenario = parse_scenario(text, "scenario.toml");
  if (!scenario) {
    ADD_FAILURE() << scenario.error().text();
    return {};
  }
  return *scenario;
}

/// A whole live job on a simulated vehicle in virtual time, and what was on its bus.
class LiveVehicle {
 public:
  LiveVehicle(const Scenario& scenario, std::vector<Item> header,
              std::optional<AskerSettings> asking = std::nullopt)
      : rates_(scenario.rates),
        job_(
            scenario, kJobStart, header,
            [this](const Item& item) -> Result<Item> {
              if (const auto* frame = std::get_if<CanFrame>(&item)) frames_.push_back(*frame);
              items_.push_back(item);
              return item;
            },
            asking) {
    items_ = std::move(header);
  }

  void run_for(Duration duration) {
    const TimePoint end = job_.now() + duration;
    while (job_.now() < end) {
      const auto more = job_.step(events_);
      ASSERT_TRUE(more);
      if (!*more) return;
    }
  }
  void enter(const std::string& name, const std::string& fields = "{}") {
    ASSERT_TRUE(job_.enter(Entry{job_.now(), name + std::to_string(items_.size()), name, fields}, events_));
  }
  void close() {
    items_.emplace_back(End{job_.now()});
    job_.on_closed(items_.back(), events_);
  }

  [[nodiscard]] const LiveJob& live() const { return job_.live(); }
  [[nodiscard]] TimePoint now() const { return job_.now(); }
  [[nodiscard]] const std::vector<CanFrame>& frames() const { return frames_; }
  [[nodiscard]] const std::vector<Item>& items() const { return items_; }
  /// The journal.
  [[nodiscard]] std::vector<std::string> lines() const {
    std::vector<std::string> lines;
    for (const Event& event : events_) lines.push_back(journal_line(event));
    return lines;
  }
  /// Frames of the tester: requests and flow control.
  [[nodiscard]] std::vector<CanFrame> sent(TimePoint from = TimePoint::min()) const {
    std::vector<CanFrame> list;
    for (const CanFrame& frame : frames_) {
      const bool standard =
          !frame.id.extended && (frame.id.value & 0x7F8U) != 0x7E8U && frame.id.value >= 0x7DF;
      const bool extended =
          frame.id.extended && ((frame.id.value & 0xFFU) == 0xF1 || (frame.id.value & 0xFFU) == 0xF9);
      if (frame.at >= from && (standard || extended)) list.push_back(frame);
    }
    return list;
  }
  template <class E>
  [[nodiscard]] std::vector<E> all(TimePoint from = TimePoint::min()) const {
    std::vector<E> found;
    for (const Event& event : events_)
      if (const auto* one = std::get_if<E>(&event); one && one->at >= from) found.push_back(*one);
    return found;
  }
  [[nodiscard]] std::size_t readings(const std::string& signal, TimePoint from = TimePoint::min()) const {
    std::size_t count = 0;
    for (const auto& one : all<ReadingEvent>(from)) count += one.signal == signal && one.value ? 1 : 0;
    return count;
  }
  /// Share of the bus that the frames since `from` took, stuff bits that depend on the content not counted.
  [[nodiscard]] double load(TimePoint from) const {
    Duration taken{};
    for (const CanFrame& frame : frames_)
      if (frame.at >= from) taken += wire_time(frame, rates_);
    return in_seconds(taken) / in_seconds(job_.now() - from);
  }

 private:
  BitRates rates_;
  std::vector<CanFrame> frames_;
  std::vector<Item> items_;
  std::vector<Event> events_;
  SimulatedJob job_;
};

}  // namespace sumplog::testing
