#include "core/job/fluid_watch.h"

#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"
#include "core/job/fluid_book.h"
#include "core/job/hot_engine.h"
#include "core/job/level_sums.h"
#include "core/job/thermal_event.h"
#include "core/job/verdict_words.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr std::string_view kFluid = "fluid_temperature";
constexpr std::string_view kEngineSpeed = "engine_speed";
constexpr std::string_view kCoolant = "coolant_temperature";
constexpr std::string_view kAmbient = "ambient_temperature";
constexpr Duration kThermalPause =
    400ms;  // thermal lines: at least one a second at two readings a second, never more than readings

constexpr Duration kBridgeEvery = 1s;    // thermal lines while a reading by hand is bridged
constexpr Duration kCoolantAge = 60s;    // ours: it moves slowly, and is asked for seldom
constexpr Duration kWarmsItLong = 5min;  // common practice, no source: by then a warmer has done its work
constexpr double kColdest_c = -40;       // of what is believed to be a fluid
constexpr double kHottest_c = 200;
constexpr double kHottestAir_c = 60;  // around a car that somebody works on

std::string_view why_of(LinkState state) {
  switch (state) {
    case LinkState::up:
    case LinkState::error_passive: return "";
    case LinkState::down: return "interface is down";
    case LinkState::gone: return "interface has vanished";
    case LinkState::bus_off: return "adapter is bus-off";
  }
  return "";
}

std::optional<Celsius> decision_point_of(const std::optional<ServiceFile>& service) {
  if (!service || !service->decision_point) return std::nullopt;
  return service->decision_point->value;
}

}  // namespace

FluidWatch::FluidWatch(JobConfiguration configuration)
    : configuration_(std::move(configuration)),
      check_(configuration_.service, configuration_.fresh),
      hand_(configuration_.window, configuration_.minimum_stay),
      cues_(decision_point_of(configuration_.service)),
      verdict_(configuration_),
      cool_down_(CoolDown::target_of(configuration_.service, configuration_.window)) {}

bool FluidWatch::is_source(const ReadingEvent& reading) {
  // While no unit has given a value, why there is none may come from any.
  return sources_.admits(reading) || sources_.of(kFluid) == nullptr;
}

BusName FluidWatch::source_bus() const {
  const auto* source = sources_.of(kFluid);
  return source == nullptr ? BusName{} : source->first;
}

void FluidWatch::fit_thermometer(const ReadingEvent& reading) {
  ThermometerConfig config;
  config.window = configuration_.window;
  config.minimum_stay = configuration_.minimum_stay;
  const bool described = reading.step > 0;
  config.step.value = described ? reading.step : configuration_.step_c;
  config.rounding = described ? reading.rounding : configuration_.rounding;
  const bool fits = thermometer_ && config.step == thermometer_config_.step &&
                    config.rounding == thermometer_config_.rounding;
  if (fits) return;
  thermometer_config_ = config;
  thermometer_.emplace(config);
}

void FluidWatch::no_value(std::string why) {
  no_value_why_ = std::move(why);
  if (gap_why_.empty()) gap_why_ = no_value_why_;
  fresh_reading_ = true;
}

void FluidWatch::on_reading(const ReadingEvent& reading, std::vector<Event>& events) {
  if (reading.quality == Quality::by_hand) return;
  news_ = true;
  heard_at_ = reading.at;
  check_.on_reading(reading, events);
  if (reading.signal != kFluid || is_source(reading)) doubt_.on_reading(reading);
  if (const auto change = regime_.on_reading(reading); change && thermometer_)
    thermometer_->announce(*change);
  plan_on(reading);
  if (reading.signal != kFluid || !is_source(reading)) return;
  if (!reading.value || reading.quality == Quality::suspect)
    no_value(reading.why.empty() ? "the unit gives no value" : reading.why);
  else
    take(reading, events);
}

void FluidWatch::take(const ReadingEvent& reading, std::vector<Event>& events) {
  fit_thermometer(reading);
  switch (thermometer_->on_reading(reading.at, Celsius{*reading.value})) {
    case Intake::out_of_range: no_value("reading is no temperature of a fluid"); return;
    case Intake::suspicious: no_value("reading jumped"); return;
    case Intake::held:
    case Intake::tick:
    case Intake::restart: break;
  }
  if (answered_at_ && interrupted(reading.at)) {
    events.push_back(GapEvent{reading.at, reading.bus, *answered_at_, reading.at,
                              gap_why_.empty() ? "no answer" : gap_why_});
  }
  verdict_.record().course().on_measured(reading.at, *reading.value);
  answered_at_ = reading.at;
  reading_c_ = *reading.value;
  no_value_why_.clear();
  away_why_.clear();
  gap_why_.clear();
  estimate_ = thermometer_->estimate();
  if (unit_is_left_out(reading.at)) return;
  fresh_reading_ = true;
  if (!doubt_.why().empty() || (estimate_ && estimate_->substitute)) return;
  recent_.add(reading.at, reading_c_, configuration_.fresh);
  cool_down_.on_fluid(reading.at, reading_c_, thermometer_config_.step.value);
}

void FluidWatch::plan_on(const ReadingEvent& reading) {
  if (reading.signal == kEngineSpeed)
    if (const auto rpm = check_.value_of(kEngineSpeed, reading.at, {}))
      verdict_.record().course().on_engine(reading.at, *rpm);
  if (reading.signal == kEngineSpeed)
    if (const auto runs = check_.engine_runs(reading.at)) cool_down_.on_engine(*runs);
  if (reading.signal == kCoolant)
    if (const auto value = check_.value_of(kCoolant, reading.at, {}))
      cool_down_.on_coolant(reading.at, *value);
  if (reading.signal == kAmbient)
    if (const auto value = check_.value_of(kAmbient, reading.at, {})) cool_down_.on_ambient(*value);
}

void FluidWatch::on_link(BusName bus, LinkState state) {
  if (sources_.of(kFluid) != nullptr && bus != source_bus()) return;
  const std::string_view why = why_of(state);
  news_ = true;
  if (why.empty()) {
    // What was read before the interruption does not come to life again.
    if (!away_why_.empty() && state == LinkState::up) away_why_ = "no reading since the bus came back";
    return;
  }
  away_why_ = why;
  if (gap_why_.empty()) gap_why_ = why;
  check_.on_gap();
  doubt_.on_gap();
}

void FluidWatch::on_resume(TimePoint now) {
  news_ = true;
  verdict_.on_hole(heard_at_, now,
                   "the program was stopped for " + seconds_words(now - heard_at_) + " with the plug out");
  away_why_ = "program was stopped";
  if (gap_why_.empty()) gap_why_ = away_why_;
  check_.on_gap();
  doubt_.on_gap();
}

void FluidWatch::on_unreadable(TimePoint now) {
  verdict_.on_hole(heard_at_, now, "a part of the recording cannot be read");
}

void FluidWatch::on_entry(const Entry& entry, std::vector<Event>& events) {
  news_ = true;
  heard_at_ = entry.at;
  verdict_.confirmations().on_entry(entry);
  if (entry.name == kLevelSeen) verdict_.on_level_seen(entry, events);
  const TimePoint at = said_time(entry).value_or(entry.at);
  if (entry.name == kSelectorCycleDone) check_.on_selector_cycle_done(at, entry.at, events);
  if (entry.name == kPositionHeld) on_position_held(entry, at, events);
  if (entry.name == kPlugOut) on_plug(at, true, entry.at, events);
  if (entry.name == kPlugIn) on_plug(at, false, entry.at, events);
  if (pours_fluid(entry)) {
    if (thermometer_) thermometer_->announce(Announcement::fluid_added);
    check_.on_fluid_added(at);
    verdict_.on_fluid_added(at);
    doubt_.on_fluid_changed(at);
    cool_down_.on_fluid_changed();
  }
  if (entry.name == kCoolDown) on_cool_down(entry);
  if (entry.name == kConditionTicked)
    if (const auto condition = text_field(entry, "condition"))
      check_.on_ticked(*condition, flag_field(entry, "holds").value_or(true));
  if (entry.name == kReadingByHand)
    if (const auto value = number_field(entry, "value_c")) on_reading_by_hand(entry, *value, events);
}

void FluidWatch::on_position_held(const Entry& entry, TimePoint at, std::vector<Event>& events) {
  const auto position = text_field(entry, "position");
  const auto held = seconds_field(entry, "s");
  const bool no_time = !held && number_field(entry, "s");  // minus five seconds are no hold
  if (position && !no_time) check_.on_position_held(at, entry.at, *position, held, events);
}

PlugMoved FluidWatch::plug_moved(TimePoint at, TimePoint now) const {
  return {at,
          now,
          recent_.at(at),
          check_.codes().read_at(check_.fluid_source(), at),
          check_.cycle_by_hand(),
          doubt_.agreed_cold()};
}

void FluidWatch::on_plug(TimePoint at, bool out, TimePoint now, std::vector<Event>& events) {
  const bool was_out = plug_.out();
  if (!plug_.move(at, out)) return;
  if (out)
    check_.codes().on_plug_out(at);
  else
    check_.codes().on_plug_in();
  const PlugMoved plug = plug_moved(at, now);
  if (out)
    verdict_.on_plug_out(plug);
  else
    verdict_.on_plug_in(plug, events);
  if (out || !was_out || !plug.temp_c || !configuration_.window || !configuration_.service) return;
  if (auto sums = level_sums(now, Celsius{*plug.temp_c}, *configuration_.window, *configuration_.service))
    events.emplace_back(std::move(*sums));
}

void FluidWatch::on_cool_down(const Entry& entry) {
  const auto air = text_field(entry, "air");
  std::optional<Air> said;
  if (air == "still") said = Air::still;
  if (air == "fan") said = Air::fan;
  auto around_c = number_field(entry, "ambient_c");
  if (around_c && !(*around_c >= kColdest_c && *around_c <= kHottestAir_c)) around_c.reset();
  cool_down_.on_asked(said, around_c);
}

void FluidWatch::on_reading_by_hand(const Entry& entry, double value_c, std::vector<Event>& events) {
  if (!(value_c >= kColdest_c && value_c <= kHottest_c)) return;  // the entry itself stands in the journal
  const TimePoint at = said_time(entry).value_or(entry.at);
  ReadingEvent reading;
  reading.at = entry.at;
  reading.bus = source_bus();
  reading.signal = kFluid;
  reading.value = value_c;
  reading.decimals = 1;
  reading.unit = "degC";
  reading.label = text_field(entry, "place").value_or("");
  reading.ecu = "by hand";
  reading.quality = Quality::by_hand;
  reading.step = HandThermometer::kStep_c;
  reading.rounding = Rounding::round;
  events.push_back(reading);
  if (const auto measured = verdict_.record().course().measured_at(at, configuration_.fresh)) {
    verdict_.confirmations().on_compared(value_c, *measured);
    doubt_.on_compared(at, value_c, *measured);
  }
  const bool newest = hand_.on_reading(at, value_c);
  // With two that contradict each other the temperature at plug out or in is not known.
  if (!newest || !hand_.contradicts()) verdict_.record().on_hand_reading(at);
  if (!newest) return;
  recent_.add(at, value_c, HandThermometer::kFresh);
  cool_down_.on_fluid_by_hand(at, value_c);
  fresh_reading_ = true;
}

void FluidWatch::on_end(TimePoint now, std::vector<Event>& events) {
  PlugMoved end = plug_moved(now, now);
  end.temp_c.reset();  // the plug did not come in
  verdict_.on_end(end, events);
  if (!answered_at_ || !interrupted(now)) return;
  events.push_back(
      GapEvent{now, source_bus(), *answered_at_, now, gap_why_.empty() ? "no answer" : gap_why_});
}

bool FluidWatch::interrupted(TimePoint now) const {
  return !away_why_.empty() || now - *answered_at_ > configuration_.fresh;
}

bool FluidWatch::unit_is_left_out(TimePoint now) const {
  return check_.codes().objects() && hand_.belief(now).state != WindowState::unknown;
}

std::string FluidWatch::doubt_words() const {
  if (estimate_ && estimate_->substitute) return "readings jumped: perhaps a substitute value";
  return doubt_.why().empty() ? std::string{} : "fluid temperature " + doubt_.why();
}

Belief FluidWatch::measured_belief(TimePoint now) const {
  std::string doubt = doubt_words();
  if (!configuration_.window)
    return {WindowState::unknown, doubt.empty() ? configuration_.no_window_why : std::move(doubt)};
  if (!away_why_.empty()) return {WindowState::unknown, away_why_};
  if (!no_value_why_.empty()) return {WindowState::unknown, no_value_why_};
  if (!answered_at_ || !estimate_ || !estimate_->side)
    return {WindowState::unknown, "no fluid temperature yet"};
  if (now - *answered_at_ > configuration_.fresh) return {WindowState::unknown, "no answer"};
  if (!doubt.empty()) return {WindowState::unknown, std::move(doubt)};
  return side_of(*estimate_, reading_c_, *configuration_.window);
}

bool FluidWatch::tells_of_hand(TimePoint now, const Belief& measured, const Belief& by_hand) const {
  if (measured.state != WindowState::unknown || by_hand.why.empty()) return false;
  const bool never_spoke = !answered_at_ && no_value_why_.empty() && away_why_.empty();
  return never_spoke || (hand_.contradicts() && hand_.ends() > now);
}

void FluidWatch::update(TimePoint now, std::vector<Event>& events) {
  now_ = now;
  if (!news_ && (!due_ || *due_ > now)) return;
  news_ = false;
  const Belief measured = measured_belief(now);
  const Belief by_hand = hand_.belief(now);
  const bool by_hand_alone = unit_is_left_out(now) || (measured.state == WindowState::unknown &&
                                                       by_hand.state != WindowState::unknown);
  Belief current = by_hand_alone ? by_hand : measured;
  if (!by_hand_alone && tells_of_hand(now, measured, by_hand)) current.why = by_hand.why;
  const bool changed = current.state != window_ || current.why != window_why_ || by_hand_alone != bridging_;
  // Between two readings by hand a minute goes by: the forecast bridges it.
  bridging_ = by_hand_alone;
  const auto estimate = bridging_ ? hand_.estimate_at(now) : estimate_;
  const bool live = current.state != WindowState::unknown;
  const bool due = (fresh_reading_ && (!said_at_ || now - *said_at_ >= kThermalPause)) ||
                   (bridging_ && said_at_ && now - *said_at_ >= kBridgeEvery);
  if (estimate && (due || changed)) {
    // Without a window the temperature is shown all the same.
    const bool believed = live || (current.why == configuration_.no_window_why && !configuration_.window &&
                                   no_value_why_.empty() && away_why_.empty());
    events.emplace_back(thermal_event(now, current, *estimate, believed));
    said_at_ = now;
  }
  if (fresh_reading_ && live) record_fluid(now, current, *estimate);
  fresh_reading_ = false;
  if (current.state != window_) {
    WindowEvent window{now, window_, current.state, std::nullopt, current.why};
    if (live) window.temp_c = estimate->temperature.value;
    events.push_back(std::move(window));
  }
  window_ = current.state;
  window_why_ = current.why;

  check_.on_window(window_, window_why_, live && estimate->fast, current.by_hand, exceeded_);
  const auto objections = check_.objections(now);
  CheckEvent check = check_.judge(now, objections);
  if (!check_said_ || check_said_->state != check.state || check_said_->why != check.why ||
      check_said_->advice != check.advice) {
    events.push_back(check);
    check_said_ = std::move(check);
  }
  verdict_.record().note(now, objections, check_.codes().objections(), measured, by_hand, answered_at_,
                         exceeded_);
  if (configuration_.window) say_cues(now, current, estimate, events);
  cool_down_.update(now, events);
  due_ = earliest();
}

void FluidWatch::record_fluid(TimePoint now, const Belief& belief, const ThermalEstimate& estimate) {
  const double value_c = belief.by_hand ? hand_.value_c() : reading_c_;
  const auto rate = estimate.rate ? std::optional(estimate.rate->value) : std::nullopt;
  verdict_.record().course().on_fluid(now, value_c, rate);
  verdict_.on_fluid(now, value_c);
  const auto& service = configuration_.service;
  const bool counts = belief.by_hand || !check_.codes().objects();
  if (belief.state == WindowState::above && counts) exceeded_ = true;
  if (!service || !service->start_limit || value_c < service->start_limit->value.value) exceeded_ = false;
}

void FluidWatch::say_cues(TimePoint now, const Belief& belief, const std::optional<ThermalEstimate>& estimate,
                          std::vector<Event>& events) {
  CueSituation situation;
  situation.now = now;
  situation.window = window_;
  if (belief.state != WindowState::unknown && estimate) {
    situation.reading_c = belief.by_hand ? hand_.value_c() : reading_c_;
    if (estimate->announce_in_s) situation.announce_in_s = *estimate->announce_in_s;
    if (window_ == WindowState::inside && estimate->stay_s) situation.stay_low_s = (*estimate->stay_s)[0];
    situation.estimate_inside = estimate->side == WindowState::inside;
    situation.fast = estimate->fast;
    situation.falling = estimate->falling;
    situation.hot_engine = hot_engine(now, belief, *estimate);
  }
  situation.plug_out = plug_.out();
  situation.engine_runs = check_.engine_runs(now);
  const auto& service = configuration_.service;
  situation.engine_must_run = service && service->engine && service->engine->value == EngineState::running;
  situation.cycle_missing = check_.cycle_missing();
  cues_.update(situation, events);
}

std::optional<std::string> FluidWatch::hot_engine(TimePoint now, const Belief& belief,
                                                  const ThermalEstimate& estimate) const {
  const auto coolant_c = check_.value_of(kCoolant, now, kCoolantAge);
  const auto engine_runs = check_.engine_runs(now);
  const bool runs = engine_runs == true;
  // While the engine runs and the fluid is inside already, `fast` judges what is measured.
  const bool before =
      belief.state == WindowState::below || (belief.state == WindowState::inside && engine_runs == false);
  if (!coolant_c || !before) return std::nullopt;
  HotEngineSituation s;
  s.coolant.value = *coolant_c;
  s.fluid.value = belief.by_hand ? hand_.value_c() : reading_c_;
  s.window = *configuration_.window;
  const auto& service = configuration_.service;
  if (service && service->coolant_limit) s.coolant_limit = service->coolant_limit->value;
  s.minimum_stay_s = in_seconds(configuration_.minimum_stay);
  if (runs && estimate.stay_s) s.foretold_stay_s = (*estimate.stay_s)[1];
  const auto since = check_.running_since();
  s.engine_warms_it_long = runs && since && now - *since >= kWarmsItLong;
  return hot_engine_warning(s);
}

std::optional<TimePoint> FluidWatch::earliest() const {
  std::optional<TimePoint> first = check_.deadline(now_);
  if (answered_at_) {
    // One microsecond past its age limit the reading is no longer live.
    const TimePoint old = *answered_at_ + configuration_.fresh + Duration{1};
    if (old > now_ && (!first || old < *first)) first = old;
  }
  if (bridging_ && said_at_) {
    const TimePoint next = *said_at_ + kBridgeEvery;
    if (next > now_ && (!first || next < *first)) first = next;
  }
  if (const auto ends = hand_.ends(); ends && *ends > now_ && (!first || *ends < *first)) first = ends;
  return first;
}

}  // namespace sumplog
