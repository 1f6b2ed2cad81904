#pragma once
#include <algorithm>
#include <deque>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "core/asker/live_job.h"
#include "core/item/json_line.h"
#include "core/j1939/packets.h"
#include "core/job/job_settings.h"
#include "core/journal/flow_run.h"
#include "core/vehicle/simulated_job.h"

namespace sumplog::testing {

/// A live job and J1939 units that are played by hand, a millisecond a step. Each frame of the job comes back to it,
/// and units see it.
class J1939Bus {
 public:
  using Unit = std::function<void(const CanFrame& frame, J1939Bus& bus)>;

  J1939Bus(const std::vector<Item>& header, AskerSettings settings)
      : job_(decoders_of(header), (settings.bus = BusName("can0"), settings), kJobStart) {
    for (const Item& item : header) write(item);
  }
  void add(Unit unit) { units_.push_back(std::move(unit)); }
  void put(std::uint32_t id, const std::vector<std::uint8_t>& bytes,
           Duration after = std::chrono::milliseconds{1}) {
    CanFrame frame = data_frame(now_ + after, BusName("can0"), extended_id(id), bytes);
    const auto later = [&](const CanFrame& one) { return one.at > frame.at; };
    due_.insert(std::find_if(due_.begin(), due_.end(), later), frame);
  }
  void run_for(Duration duration) {
    for (const TimePoint end = now_ + duration; now_ < end; now_ += std::chrono::milliseconds{1}) {
      while (!due_.empty() && due_.front().at <= now_) {
        CanFrame frame = due_.front();
        due_.pop_front();
        frame.at = now_;
        frames_.push_back(frame);
        write(frame);
      }
      LiveOutput out;
      job_.on_time(now_, out);
      carry_out(std::move(out));
    }
  }

  [[nodiscard]] TimePoint now() const { return now_; }
  [[nodiscard]] bool finished() const { return job_.finished(); }
  [[nodiscard]] const std::vector<Item>& items() const { return items_; }
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }
  [[nodiscard]] std::vector<ReadingEvent> readings() const { return readings_; }
  /// "18EC03F9#1102…" of every frame on the bus that has this identifier.
  [[nodiscard]] std::vector<std::string> heard_on(std::uint32_t id) const {
    std::vector<std::string> list;
    for (const CanFrame& frame : frames_)
      if (frame.id == extended_id(id)) list.push_back(hex_text(frame.bytes.data(), frame.length));
    return list;
  }

 private:
  void write(const Item& item) {
    items_.push_back(item);
    LiveOutput out;
    job_.on_written(item, out);
    carry_out(std::move(out));
  }
  void carry_out(LiveOutput&& out) {
    for (const Event& event : out.events) {
      lines_.push_back(journal_line(event));
      if (const auto* reading = std::get_if<ReadingEvent>(&event)) readings_.push_back(*reading);
    }
    for (const Item& item : out.record) write(item);
    for (const GuardedFrame& guarded : out.send) {
      CanFrame frame = guarded.frame();
      frame.at = now_;
      frames_.push_back(frame);
      write(frame);
      for (const Unit& unit : units_) unit(frame, *this);
    }
  }

  TimePoint now_ = kJobStart;
  LiveJob job_;
  std::vector<Unit> units_;
  std::deque<CanFrame> due_;
  std::vector<CanFrame> frames_;
  std::vector<Item> items_;
  std::vector<std::string> lines_;
  std::vector<ReadingEvent> readings_;
};

/// A unit that gives `group` to whom asks for it, in a session of `at_once` packets for each CTS.
/// src  SAE J1939-21, sender's side; written for this test
inline J1939Bus::Unit session_sender(std::uint8_t address, std::uint32_t group,
                                     std::vector<std::uint8_t> payload, std::uint8_t at_once) {
  return [=](const CanFrame& frame, J1939Bus& bus) {
    using isotp_words::announcement;
    using isotp_words::kRts;
    using isotp_words::packet;
    const auto bytes = frame.data();
    const std::uint32_t to_us = std::uint32_t{address} << 8 | 0xF9;
    if (frame.id == extended_id(0x18EA0000 | to_us) && bytes.size() == 3 &&
        static_cast<std::uint32_t>(bytes[0] | bytes[1] << 8 | bytes[2] << 16) == group) {
      auto rts = announcement(kRts, payload.size(), group);
      rts[4] = at_once;
      bus.put(0x1CECF900U | address, rts, std::chrono::milliseconds{20});
    }
    if (frame.id != extended_id(0x18EC0000 | to_us) || bytes[0] != 0x11) return;
    for (std::size_t i = 0; i < bytes[1]; ++i)
      bus.put(0x1CEBF900U | address, packet(payload, bytes[2] + i), std::chrono::milliseconds{10} * (i + 1));
  };
}

/// A unit that claims its address when somebody asks for claims.
inline J1939Bus::Unit claimant(std::uint8_t address, std::vector<std::uint8_t> name, Duration after) {
  return [=](const CanFrame& frame, J1939Bus& bus) {
    if (frame.id == extended_id(0x18EAFFF9) && frame.bytes[0] == 0x00 && frame.bytes[1] == 0xEE)
      bus.put(0x18EEFF00U | address, name, after);
  };
}

}  // namespace sumplog::testing
