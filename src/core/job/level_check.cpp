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
    : service_(std::move(service)), fresh_(fresh), cycle_(service_) {}

void LevelCheck::on_reading(const ReadingEvent& reading, std::vector<Event>& events) {
  if (!sources_.admits(reading)) return;
  const auto before = last_.find(reading.signal);
  if (!reading.value || reading.quality == Quality::suspect) {
    if (before != last_.end()) before->second.known = false;
    return;
  }
  // What happened in a hole was not seen: nothing lasts across it.
  const bool hole = before == last_.end() || reading.at - before->second.at > fresh_;
  const Live now{reading.at, *reading.value, reading.label, true};
  last_.insert_or_assign(reading.signal, now);
  if (reading.signal == kEngineSpeed) follow_engine(now, hole);
  if (reading.signal != kSelector) return;
  const bool engine_seen = live(kEngineSpeed, now.at) != nullptr;
  cycle_.on_position(now.at, now.label, hole, engine_seen ? running_since_ : std::nullopt, events);
}

void LevelCheck::follow_engine(const Live& rpm, bool hole) {
  const bool runs = rpm.value >= kRunningRpm;
  // It may have been stopped and started again in between.
  if (hole && ran_) cycle_.on_engine_unseen();
  if (!runs) cycle_.on_engine_stopped();
  if (runs && ran_ == false) cycle_.on_engine_started();
  if (!runs)
    running_since_.reset();
  else if (!running_since_ || hole)
    running_since_ = rpm.at;
  ran_ = runs;
}

void LevelCheck::on_window(WindowState state, const std::string& why, bool fast, bool by_hand,
                           bool exceeded) {
  window_by_hand_ = by_hand;
  exceeded_ = exceeded;
  window_ = state;
  window_why_ = why;
  fast_ = fast;
}

void LevelCheck::on_selector_cycle_done(TimePoint at, TimePoint now, std::vector<Event>& events) {
  if (!running_since_ || at >= *running_since_) cycle_.on_done_by_hand(now, events);
}

void LevelCheck::on_position_held(TimePoint at, TimePoint now, const std::string& position,
                                  std::optional<Duration> held, std::vector<Event>& events) {
  if (!running_since_ || at >= *running_since_) cycle_.on_held_by_hand(now, position, held, events);
}

void LevelCheck::on_ticked(const std::string& condition, bool holds) {
  if (holds)
    ticked_.insert(condition);
  else
    ticked_.erase(condition);
}

BusUnit LevelCheck::fluid_source() const {
  const auto* source = sources_.of(kFluidTemperature);
  return source == nullptr ? BusUnit{} : *source;
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

void LevelCheck::object_to_engine(TimePoint now, std::vector<Objection>& found) const {
  if (!service_->engine && !service_->settling_time && !service_->idle) return;
  const Live* rpm = live(kEngineSpeed, now);
  if (rpm == nullptr) {
    found.push_back({Condition::engine, "engine speed is not known", true, {}});
    return;
  }
  const bool wants_running = !service_->engine || service_->engine->value == EngineState::running;
  const bool runs = rpm->value >= kRunningRpm;
  if (wants_running && !runs) found.push_back({Condition::engine, "engine is not running", false, {}});
  if (!wants_running && runs)
    found.push_back({Condition::engine, "engine is running; it must be off", false, {}});
  if (!runs || !wants_running || !service_->idle) return;
  const IdleBand& band = service_->idle->value;
  if (rpm->value < band.low_rpm || rpm->value > band.high_rpm)
    found.push_back({Condition::idle, "engine is not at idle", false, {}});
}

void LevelCheck::object_to_vehicle(TimePoint now, std::vector<Objection>& found) const {
  if (!service_->vehicle || service_->vehicle->value != VehicleState::standing) return;
  const Live* speed = live(kVehicleSpeed, now);
  if (speed == nullptr)
    found.push_back({Condition::vehicle, "vehicle speed is not known", true, {}});
  else if (speed->value > 0)
    found.push_back({Condition::vehicle, "vehicle is moving", false, {}});
}

void LevelCheck::object_to_codes(TimePoint now, std::vector<Objection>& found) const {
  if (window_by_hand_) return;
  for (const std::string& objection : codes_.objections())
    found.push_back({Condition::sensor_code, objection, false, objection});
  if (!service_->codes_read) return;
  std::string missing = codes_.missing(fluid_source(), service_->codes_read->value, now);
  if (!missing.empty()) found.push_back({Condition::codes_read, std::move(missing), false, {}});
}

void LevelCheck::object_to_selector(TimePoint now, std::vector<Objection>& found) const {
  if (const auto position = cycle_.missing())
    found.push_back(
        {Condition::selector_cycle, "selector cycle is not complete: " + *position, false, *position});
  if (!service_->selector) return;
  const Live* selector = live(kSelector, now);
  const auto& allowed = service_->selector->value;
  if (selector == nullptr)
    found.push_back({Condition::selector, "selector position is not known", true, {}});
  else if (std::find(allowed.begin(), allowed.end(), selector->label) == allowed.end())
    found.push_back(
        {Condition::selector, "selector is not in " + joined(allowed, " or "), false, selector->label});
}

void LevelCheck::object_to_settling(TimePoint now, std::vector<Objection>& found) const {
  if (!service_->settling_time) return;
  const Duration settling = service_->settling_time->value;
  const bool runs = engine_runs(now) == true;
  if (runs && running_since_ && now - *running_since_ < settling)
    found.push_back(
        {Condition::settled, "fluid is not mixed yet: settling time after engine start", false, {}});
  if (added_at_ && now - *added_at_ < settling)
    found.push_back({Condition::settled_addition,
                     "fluid is not mixed yet: settling time after fluid was added",
                     false,
                     {}});
}

std::vector<Objection> LevelCheck::objections(TimePoint now) const {
  if (!service_) return {};
  constexpr std::size_t kMostKinds = 8;
  std::vector<Objection> found;
  found.reserve(kMostKinds);
  if (window_ == WindowState::unknown)
    found.push_back(
        {Condition::reading, window_why_.empty() ? "no live reading" : window_why_, true, window_why_});
  object_to_engine(now, found);
  object_to_vehicle(now, found);
  object_to_codes(now, found);
  object_to_selector(now, found);
  if (service_->by_hand)
    for (const std::string& condition : service_->by_hand->value)
      if (!ticked_.contains(condition))
        found.push_back({Condition::ticked, "not ticked: " + condition, false, condition});
  object_to_settling(now, found);
  if (window_ == WindowState::below)
    found.push_back({Condition::window, "fluid is below the window", false, {}});
  if (window_ == WindowState::above)
    found.push_back({Condition::window, "fluid is above the window", false, {}});
  // The metal is hotter than a fluid that merely fell back: it rises again at once.
  if (exceeded_ && service_->start_limit && window_ != WindowState::above)
    found.push_back({Condition::start_limit,
                     "window was exceeded: let it cool below " +
                         fixed(service_->start_limit->value.value, 0) + " °C first",
                     false,
                     {}});
  if (fast_ && window_ != WindowState::above)
    found.push_back({Condition::rate, "fluid warms too fast: the window will be too short", false, {}});
  return found;
}

CheckEvent LevelCheck::judge(TimePoint now, const std::vector<Objection>& objections) const {
  CheckEvent event;
  event.at = now;
  event.advice = advice();
  if (!service_) {
    event.why.emplace_back("no service file: the conditions of the level check are not known");
    return event;
  }
  event.why.reserve(objections.size());
  bool unknown = false;
  bool mixing = false;
  for (const Objection& one : objections) {
    unknown = unknown || one.unknown;
    // One settling time at once is enough to wait for.
    if (one.condition == Condition::settled_addition && mixing) continue;
    mixing = mixing || one.condition == Condition::settled;
    const bool stop = one.condition == Condition::window && window_ == WindowState::above;
    event.why.insert(stop ? event.why.begin() : event.why.end(), one.text);
  }
  if (window_ == WindowState::above)
    event.state = CheckState::stop;
  else if (unknown)
    event.state = CheckState::unknown;
  else
    event.state = event.why.empty() ? CheckState::may_start : CheckState::not_yet;
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
