#pragma once
#include <gtest/gtest.h>

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/asker/live_job.h"
#include "core/asker/live_vehicle.h"
#include "core/decoder/folders.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/job_settings.h"
#include "core/vehicle/vehicle.h"
#include "core/vehicle/virtual_bus.h"

namespace sumplog::testing {

/// Two units; the gearbox answers 20 of the 256 identifiers 1A00 to 1AFF, every thirteenth, and refuses the others. Six of them move
/// with a temperature, in different forms. Invented.
inline std::string swept_scenario(const std::string& more = "") {
  std::string text = R"toml(
format = 1
title = "A gearbox with 20 identifiers (invented)"
lasts_s = 7200
[vehicle]
ambient_c = 18
fluid_c = 18
coolant_c = 18
engine = "running"
[[ecu]]
id = "engine"
request = 0x7E0
response = 0x7E8
pids = [0x01, 0x05, 0x0C, 0x0D]
[ecu.memory]
services = ["J1979"]
[[ecu.code]]
code = "P0128"
stored = true
[[ecu.code]]
code = "P0301"
stored = true
there = false
[[ecu]]
id = "gearbox"
request = 0x7E1
response = 0x7E9
pids = [0x01]
[ecu.memory]
services = ["ISO 14229"]
[[ecu.code]]
code = "P0711-1F"
status = 0x09
there = false
)toml";
  const char* const moving[] = {"offset = -40",
                                "scale = 0.5\noffset = -40",
                                "scale = 0.1\noffset = -40\nbytes = 2",
                                "scale = 0.0625\noffset = 0\nbytes = 2\nsigned = true",
                                "scale = 0.03125\noffset = -273\nbytes = 2\nbyte_order = \"little\"",
                                "offset = -50\nbefore = \"1122\"\nafter = \"33\""};
  for (int i = 0; i < 20; ++i) {
    text += "[[ecu.did]]\ndid = " + std::to_string(0x1A00 + 13 * i) + "\n";
    if (i < 6)
      text += std::string("signal = \"") + (i % 2 == 0 ? "fluid" : "coolant") + "_temperature\"\n" +
              moving[i] + "\n";
    else
      text += "hex = \"" + std::string(i % 3 == 0 ? "00" : "0102030405060708090A") + "\"\n";
  }
  return text + more;
}

/// A live job with a sweep, on the simulated vehicle in virtual time; it can be left and gone on with while the car goes on.
class SweptCar {
 public:
  SweptCar(const std::string& scenario, const std::vector<std::string>& ranges)
      : scenario_(scenario_from(scenario)) {
    for (const std::string& one : ranges) ranges_.push_back(*parse_sweep_range(one));
    for (const char* name : {"obd-generic/signals.toml", "obd-generic/codes.toml"})
      items_.push_back(
          DecoderText{kJobStart, name, file_text(std::string(SUMPLOG_SOURCE) + "/decoders/" + name)});
    items_.insert(items_.begin(), Settings{kJobStart, "job", "program", "", {}});
    vehicle_.emplace(scenario_, kJobStart);
    bus_.emplace(scenario_.bus, scenario_.rates, kJobStart);
    bus_->attach(*vehicle_);
    bus_->attach(port_);
    begin();
  }

  /// The consent that the command records.
  void agree(const std::string& by = "K. Example") {
    enter(std::string(kConfirmed),
          JsonLine().text("what", "sweep").text("origin", text_of(ranges_)).text("by", by).take());
  }
  void enter(const std::string& name, const std::string& fields = "{}") {
    record(Entry{bus_->now(), name + std::to_string(items_.size()), name, fields});
  }
  void run_for(Duration duration) {
    const TimePoint end = bus_->now() + duration;
    while (bus_->now() < end) {
      TimePoint next = end;
      if (const auto due = bus_->next_event()) next = std::min(next, *due);
      if (const auto due = job_->deadline()) next = std::min(next, *due);
      stuck_ = next <= bus_->now() ? stuck_ + 1 : 0;
      ASSERT_LT(stuck_, 50) << "the job waits for a time that has passed";
      bus_->run_until(std::max(next, bus_->now()));
      (void)bus_->take_frames();
      for (const CanFrame& frame : port_.take_heard()) record(frame);
      LiveOutput out;
      job_->on_time(bus_->now(), out);
      carry_out(std::move(out));
    }
  }
  /// Until the sweep's own line begins so.
  void run_until_status(const std::string& words, Duration most = std::chrono::minutes(10)) {
    for (const TimePoint end = now() + most; now() < end && !status().starts_with(words);) {
      run_for(std::chrono::milliseconds(200));
      if (::testing::Test::HasFatalFailure()) return;
    }
    ASSERT_TRUE(status().starts_with(words)) << status();
  }
  /// The program is stopped and started again with the same job file; the car goes on meanwhile.
  void leave_and_go_on(Duration away) {
    job_.reset();
    bus_->run_until(bus_->now() + away);
    (void)bus_->take_frames();
    (void)port_.take_heard();
    begin();
    record(Resume{bus_->now()});
  }
  void unplug_adapter() { bus_->set_connected(port_, false); }

  [[nodiscard]] TimePoint now() const { return bus_->now(); }
  [[nodiscard]] std::string status() const { return job_->sweep()->status(); }
  [[nodiscard]] const LiveSweep& sweep() const { return *job_->sweep(); }
  [[nodiscard]] const std::vector<Item>& items() const { return items_; }
  [[nodiscard]] const std::vector<std::string>& lines() const { return lines_; }
  [[nodiscard]] const Vehicle& vehicle() const { return *vehicle_; }

  struct Asked {
    TimePoint at{};
    CanId to{};
    std::string payload;  ///< hex
  };
  /// Requests that were on the bus, in their order; no flow control.
  [[nodiscard]] std::vector<Asked> asked(TimePoint from = TimePoint::min()) const {
    std::vector<Asked> list;
    for (const Item& item : items_) {
      const auto* frame = std::get_if<CanFrame>(&item);
      if (frame == nullptr || frame->at < from || frame->bytes[0] >> 4 != 0) continue;
      const std::uint32_t id = frame->id.value;
      const bool request =
          frame->id.extended ? (id & 0xFFU) == 0xF1 : id == 0x7DF || (id >= 0x7E0 && id <= 0x7E7);
      if (request) list.push_back({frame->at, frame->id, hex_text(frame->bytes.data() + 1, frame->bytes[0])});
    }
    return list;
  }
  /// Of these, those for identifiers.
  [[nodiscard]] std::vector<Asked> identifiers_asked(TimePoint from = TimePoint::min()) const {
    std::vector<Asked> list = asked(from);
    std::erase_if(list, [](const Asked& one) {
      return !one.payload.starts_with("22") && !one.payload.starts_with("21");
    });
    return list;
  }
  /// What the sweep wrote into the record.
  [[nodiscard]] std::vector<std::string> notes() const {
    std::vector<std::string> texts;
    for (const Item& item : items_) {
      const auto* entry = std::get_if<Entry>(&item);
      if (entry == nullptr || entry->name != kNote) continue;
      const std::size_t at = entry->fields.find("\"text\":\"") + 8;
      texts.push_back(entry->fields.substr(at, entry->fields.find("\",\"by\"") - at));
    }
    return texts;
  }

 private:
  void begin() {
    job_ =
        std::make_unique<LiveJob>(decoders_of(items_), sweep_settings(scenario_.bus, ranges_), bus_->now());
    LiveOutput out;
    for (const Item& item : items_) job_->on_past(item, out);
  }
  void record(const Item& item) {
    items_.push_back(item);
    LiveOutput out;
    job_->on_written(item, out);
    carry_out(std::move(out));
  }
  void carry_out(LiveOutput&& out) {
    for (const Event& event : out.events) lines_.push_back(journal_line(event));
    for (const GuardedFrame& frame : out.send) port_.send(frame.frame());
    if (!out.send.empty()) bus_->collect();
    for (const Item& item : out.record) record(item);
  }

  Scenario scenario_;
  std::vector<SweepRange> ranges_;
  std::vector<Item> items_;
  std::vector<std::string> lines_;
  std::optional<Vehicle> vehicle_;
  BusPort port_;
  std::optional<VirtualBus> bus_;
  std::unique_ptr<LiveJob> job_;
  int stuck_ = 0;
};

}  // namespace sumplog::testing
