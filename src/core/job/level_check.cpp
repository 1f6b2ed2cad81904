#include "core/job/level_check.h"

#include <algorithm>

#include "core/item/json_line.h"
#include "core/job/engine_speed.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr std::string_view kFluidTemperature = "fluid_temperature";
constexpr std::string_view kEngineSpeed = "engine_speed";
constexpr std::string_view kVehicleSpeed = "vehicle_speed";
constexpr std::string_view kSelector = "selector_position";

}  // namespace

LevelCheck::LevelCheck(std::optional<ServiceFile> service, Duration fresh)
    : service_(std::move(service)), fresh_(fresh) {}

bool LevelCheck::is_source(const ReadingEvent& reading) {
  // The first unit that gives a value stays the source of its signal: two units are never mixed.
  const auto found = sources_.find(reading.signal);
  if (found != sources_.end()) return found->second == std::pair(reading.bus, reading.ecu);
  if (!reading.value) return false;
  sources_.emplace(reading.signal, std::pair(reading.bus, reading.ecu));
  return true;
}

void LevelCheck::on_reading(const ReadingEvent& reading) {
  if (!is_source(reading)) return;
  const auto before = last_.find(reading.signal);
  if (!reading.value || reading.quality == Quality::suspect) {
    if (before != last_.end()) before->second.known = false;
    return;
  }
  // What happened in a hole was not seen: nothing lasts across it.
  const bool hole = before == last_.end() || reading.at - before->second.at > fresh_;
  const Live now{reading.at, *reading.value, reading.label, true};
  last_.insert_or_assign(reading.signal, now);
  if (reading.signal == kEngineSpeed) {
    if (now.value < kRunningRpm) {
      // The fluid falls back into the pan: circuits must be filled again.
      running_since_.reset();
      held_.clear();
      cycle_done_by_hand_ = false;
    } else if (!running_since_ || hole) {
      running_since_ = now.at;
    }
  }
  if (reading.signal == kSelector) follow_selector(now, hole);
}

void LevelCheck::follow_selector(const Live& reading, bool hole) {
  if (hole || reading.label != position_) {
    position_ = reading.label;
    position_since_ = reading.at;
  }
  if (!running_since_ || live(kEngineSpeed, reading.at) == nullptr) return;
  const TimePoint since = std::max(position_since_, *running_since_);
  Duration& longest = held_[position_];
  longest = std::max(longest, reading.at - since);
}

void LevelCheck::on_window(WindowState state, const std::string& why, bool fast, bool by_hand) {
  window_by_hand_ = by_hand;
  window_ = state;
  window_why_ = why;
  fast_ = fast;
}

void LevelCheck::on_selector_cycle_done(TimePoint at) {
  // One that was done before this start of the engine does not count.
  if (!running_since_ || at >= *running_since_) cycle_done_by_hand_ = true;
}

void LevelCheck::on_ticked(const std::string& condition, bool holds) {
  if (holds)
    ticked_.insert(condition);
  else
    ticked_.erase(condition);
}

std::string LevelCheck::fluid_source() const {
  const auto source = sources_.find(kFluidTemperature);
  return source == sources_.end() ? std::string{} : source->second.second;
}

std::optional<bool> LevelCheck::engine_runs(TimePoint now) const {
  const Live* rpm = live(kEngineSpeed, now);
  if (rpm == nullptr) return std::nullopt;
  return rpm->value >= kRunningRpm;
}

std::optional<double> LevelCheck::value_of(std::string_view signal, TimePoint now, Duration age) const {
  const auto found = last_.find(signal);
  if (found == last_.end() || !found->second.known || now - found->second.at > age) return std::nullopt;
  return found->second.value;
}

void LevelCheck::on_gap() {
  last_.clear();
  running_since_.reset();
}

const LevelCheck::Live* LevelCheck::live(std::string_view signal, TimePoint now) const {
  const auto found = last_.find(signal);
  if (found == last_.end() || !found->second.known || now - found->second.at > fresh_) return nullptr;
  return &found->second;
}

std::optional<std::string> LevelCheck::missing_hold() const {
  if (!service_->selector_cycle || cycle_done_by_hand_) return std::nullopt;
  for (const SelectorHold& wanted : service_->selector_cycle->value) {
    const auto held = held_.find(wanted.position);
    if (held == held_.end() || held->second < wanted.hold) return wanted.position;
  }
  return std::nullopt;
}

std::string LevelCheck::advice() const {
  switch (window_) {
    case WindowState::unknown:
    case WindowState::inside: return {};
    case WindowState::below: return service_ && service_->advice_below ? service_->advice_below->value : "";
    case WindowState::above: break;
  }
  if (service_ && service_->advice_above) return service_->advice_above->value;
  std::string text = "plug in";
  if (service_ && service_->engine && service_->engine->value == EngineState::running)
    text += ", then stop the engine";  // it keeps what the plug would let out
  text += "; let it cool below ";
  return text + (service_ && service_->start_limit ? fixed(service_->start_limit->value.value, 0) + " °C"
                                                   : "the window");
}

CheckEvent LevelCheck::judge(TimePoint now) const {
  CheckEvent event;
  event.at = now;
  event.advice = advice();
  if (!service_) {
    event.why.emplace_back("no service file: the conditions of the level check are not known");
    return event;
  }
  bool unknown = false;
  const auto wait = [&](std::string why) { event.why.push_back(std::move(why)); };
  const auto not_known = [&](std::string why) {
    unknown = true;
    event.why.push_back(std::move(why));
  };

  if (window_ == WindowState::unknown) not_known(window_why_.empty() ? "no live reading" : window_why_);

  bool runs = false;
  if (service_->engine || service_->settling_time || service_->idle) {
    const Live* rpm = live(kEngineSpeed, now);
    const bool wants_running = !service_->engine || service_->engine->value == EngineState::running;
    if (rpm == nullptr) {
      not_known("engine speed is not known");
    } else {
      runs = rpm->value >= kRunningRpm;
      if (wants_running && !runs) wait("engine is not running");
      if (!wants_running && runs) wait("engine is running; it must be off");
    }
    if (runs && wants_running && service_->idle) {
      const IdleBand& band = service_->idle->value;
      if (rpm->value < band.low_rpm || rpm->value > band.high_rpm) wait("engine is not at idle");
    }
  }
  if (service_->vehicle && service_->vehicle->value == VehicleState::standing) {
    const Live* speed = live(kVehicleSpeed, now);
    if (speed == nullptr)
      not_known("vehicle speed is not known");
    else if (speed->value > 0)
      wait("vehicle is moving");
  }
  if (!window_by_hand_) {
    for (std::string& objection : codes_.objections()) wait(std::move(objection));
    if (service_->codes_read) {
      std::string missing = codes_.missing(fluid_source(), service_->codes_read->value, now);
      if (!missing.empty()) wait(std::move(missing));
    }
  }
  if (const auto position = missing_hold()) wait("selector cycle is not complete: " + *position);
  if (service_->selector) {
    const Live* selector = live(kSelector, now);
    const auto& allowed = service_->selector->value;
    if (selector == nullptr)
      not_known("selector position is not known");
    else if (std::find(allowed.begin(), allowed.end(), selector->label) == allowed.end())
      wait("selector is not in " + joined(allowed, " or "));
  }
  // Here, before what a person ticks: no fault code of the sensor, once codes are read.
  if (service_->by_hand)
    for (const std::string& condition : service_->by_hand->value)
      if (!ticked_.contains(condition)) wait("not ticked: " + condition);
  if (service_->settling_time) {
    const Duration settling = service_->settling_time->value;
    if (runs && running_since_ && now - *running_since_ < settling)
      wait("fluid is not mixed yet: settling time after engine start");
    else if (added_at_ && now - *added_at_ < settling)
      wait("fluid is not mixed yet: settling time after fluid was added");
  }
  if (window_ == WindowState::below) wait("fluid is below the window");
  if (fast_ && window_ != WindowState::above) wait("fluid warms too fast: the window will be too short");

  if (window_ == WindowState::above) {
    event.state = CheckState::stop;
    event.why.insert(event.why.begin(), "fluid is above the window");
  } else if (unknown) {
    event.state = CheckState::unknown;
  } else {
    event.state = event.why.empty() ? CheckState::may_start : CheckState::not_yet;
  }
  return event;
}

std::optional<TimePoint> LevelCheck::deadline(TimePoint now) const {
  if (!service_) return std::nullopt;
  std::optional<TimePoint> first;
  const auto at = [&](TimePoint t) {
    if (t > now && (!first || t < *first)) first = t;
  };
  if (running_since_ && service_->settling_time) at(*running_since_ + service_->settling_time->value);
  if (added_at_ && service_->settling_time) at(*added_at_ + service_->settling_time->value);
  if (service_->codes_read)
    if (const auto ends = codes_.ends(fluid_source(), service_->codes_read->value)) at(*ends);
  for (const std::string_view signal : {kEngineSpeed, kVehicleSpeed, kSelector}) {
    const auto found = last_.find(signal);
    // One microsecond past its age limit the reading is no longer live.
    if (found != last_.end()) at(found->second.at + fresh_ + Duration{1});
  }
  return first;
}

}  // namespace sumplog
