#include "core/thermal/thermometer.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "core/thermal/elementary.h"

namespace sumplog {
namespace {

// Own research (docs/thermometer.md).
constexpr double kBranchEvery_s = 8;
constexpr double kChangeHazard = 1.0 / 6000;   // 1/s: a course changes unannounced every 100 minutes …
constexpr double kBadRecordHazard = 3;         // … and this much oftener, beside that, with a bad record
constexpr double kFreezeHazard = 1.0 / 20000;  // 1/s
constexpr double kChangedWhenAnnounced = 0.5;  // probability
constexpr double kFrozen = 0.5;                // probability from which it is said …
constexpr double kFrozenBadRecord = 0.4;       // … and this much more with a bad record
constexpr double kIrregular = 0.5;             // weight of the smooth forecast below which it is said
constexpr double kEnter = 0.7;                 // probability inside
constexpr double kLeave = 0.3;
constexpr double kHold_s = 5;      // between two switches
constexpr double kLook_s = 0.4;    // between two forecasts, as thermal lines come
constexpr double kLevel_c = 1;     // levels are at least this far apart
constexpr double kLongGap_s = 60;  // after it the course may have changed unseen
constexpr double kTiny = 1e-6;
// A rate is told once its 80 % interval is narrower than the larger of these, or after two levels, or after
// half a minute with whatever interval it then has.
constexpr double kNarrow = 0.5 / 60;  // °C/s
constexpr double kNarrowShare = 0.5;  // of the rate
constexpr double kSpeaksAfter_s = 30;

Quantiles three(const FourQuantiles& q) {
  return {q.p10, q.p50, q.p90};
}

}  // namespace

Thermometer::Thermometer(const ThermometerConfig& config) : config_(config), intake_(config.step.value) {
  assert(config.step.value > 0);
}

SensorCell Thermometer::cell() const {
  return {intake_.reading_c(), intake_.step_c(), config_.rounding};
}

double Thermometer::level_c() const {
  return intake_.step_c() * std::ceil(kLevel_c / intake_.step_c() - kTiny);
}

Intake Thermometer::on_reading(TimePoint at, Celsius reading) {
  if (!origin_) origin_ = at;
  const double now_s = in_seconds(at - *origin_);
  const double before_s = intake_.at_s();
  const double before_c = intake_.reading_c();
  const Intake intake = intake_.on_reading(now_s, reading.value);
  switch (intake) {
    case Intake::out_of_range:
    case Intake::suspicious: return intake;
    case Intake::restart: restart(); break;
    case Intake::tick: tick(now_s - before_s, before_c); break;
    case Intake::held:
      if (now_s - looked_s_ < kLook_s) return intake;
      break;
  }
  look(now_s);
  return intake;
}

void Thermometer::announce(Announcement what) {
  announced_ = true;
  switch (what) {
    case Announcement::vehicle_stopped: motion_ = Motion::standing; break;
    case Announcement::vehicle_drove_off: motion_ = Motion::moving; break;
    case Announcement::engine_started:
    case Announcement::engine_stopped:
    case Announcement::selector_moved:
    case Announcement::fluid_added:
    case Announcement::gap: break;
  }
}

void Thermometer::restart() {
  const double now_s = intake_.at_s();
  hypotheses_.restart(cell());
  pace_.restart(now_s, intake_.reading_c());
  record_.restart();
  announced_ = false;
  restarted_s_ = branched_s_ = now_s;
  speaks_ = false;
  side_.reset();
}

void Thermometer::tick(double length_s, double before_c) {
  if (length_s > kLongGap_s) announced_ = true;
  hypotheses_.advance(length_s);
  const SensorCell now = cell();
  if (now.fine()) {
    hypotheses_.take_fine(intake_.mean_c() + now.offset() * now.step_c, now.step_c);
  } else {
    hypotheses_.take_coarse(now, before_c, length_s);
  }
  pass_levels(length_s);
  if (announced_) {
    pace_.loosen();
    record_.forgive();
  }
  if (announced_ || intake_.at_s() - branched_s_ >= kBranchEvery_s) branch();
  announced_ = false;
}

void Thermometer::pass_levels(double length_s) {
  const double direction = pace_.direction();
  const double level = pace_.level_c();
  const double passed_s = pace_.passed_at_s();
  if (!pace_.on_reading(intake_.at_s(), intake_.reading_c(), level_c())) return;
  TrackRecord::Passage passage;
  passage.at_s = intake_.at_s();
  passage.since_s = passed_s;
  passage.one_level = direction == pace_.direction() && std::abs(pace_.level_c() - level) < 1.5 * level_c();
  passage.direction = pace_.direction();
  passage.level_c = level_c();
  passage.tick_s = length_s;
  passage.learnt_step = intake_.learnt_step();
  record_.on_passage(passage, hypotheses_.rate());
}

void Thermometer::branch() {
  const double now_s = intake_.at_s();
  const double since_s = now_s - branched_s_;
  const double hazard =
      kChangeHazard * (1 + kBadRecordHazard * (1 - record_.smooth_weight(motion_ == Motion::moving)));
  const double changed = announced_ ? kChangedWhenAnnounced : 1 - exp_of(-hazard * since_s);
  hypotheses_.branch(cell(), changed, 1 - exp_of(-kFreezeHazard * since_s));
  branched_s_ = now_s;
}

double Thermometer::smooth_weight() const {
  if (pace_.passages() < PaceFilter::kEnough) return 1;
  return record_.smooth_weight(motion_ == Motion::moving);
}

std::optional<Forecast> Thermometer::foresee(double now_s) const {
  const double stay_gone_s = side_ == WindowState::inside ? now_s - side_since_s_ : 0;
  return forecast({hypotheses_.all(), cell(), now_s - intake_.at_s(), smooth_weight(), record_.misfit(),
                   pace_, level_c(), now_s - pace_.passed_at_s(), motion_ == Motion::standing, config_.window,
                   in_seconds(config_.minimum_stay), stay_gone_s});
}

void Thermometer::tell(const Forecast& seen, ThermalEstimate& out) const {
  out.temperature.value = seen.temperature_c;
  if (!speaks_) return;
  out.rate = CelsiusPerMinute{seen.rate * 60};
  out.rate_low = CelsiusPerMinute{seen.rate_low * 60};
  out.rate_high = CelsiusPerMinute{seen.rate_high * 60};
  out.falling = seen.rate_high < 0;
  out.fast = seen.fast;
  out.enter_in_s = seen.enter_s ? std::optional(three(*seen.enter_s)) : std::nullopt;
  out.announce_in_s.reset();
  if (seen.enter_s) out.announce_in_s = seen.enter_s->p05;
  out.stay_s = seen.stay_s ? std::optional(three(*seen.stay_s)) : std::nullopt;
}

std::optional<ThermalEstimate> Thermometer::estimate_at(TimePoint at) const {
  if (!estimate_) return std::nullopt;
  const double now_s = in_seconds(at - *origin_);
  if (now_s <= looked_s_) return estimate_;
  const auto seen = foresee(now_s);
  if (!seen) return estimate_;
  ThermalEstimate out = *estimate_;
  tell(*seen, out);
  return out;
}

void Thermometer::look(double now_s) {
  looked_s_ = now_s;
  const auto seen = foresee(now_s);
  if (!seen) return;
  ThermalEstimate out;
  const double width = seen->rate_high - seen->rate_low;
  speaks_ = speaks_ || pace_.passages() >= PaceFilter::kEnough || now_s - restarted_s_ >= kSpeaksAfter_s ||
            width < std::max(kNarrow, kNarrowShare * std::abs(seen->rate));
  tell(*seen, out);
  if (config_.window) {
    judge_side(now_s, *seen);
    out.inside = seen->inside;
    out.side = side_;
  }
  const double doubt = kFrozen + kFrozenBadRecord * (1 - record_.smooth_weight(motion_ == Motion::moving));
  out.frozen = cell().fine() ? intake_.still_too_long() : hypotheses_.frozen() > doubt;
  out.substitute = intake_.substitute();
  out.irregular = smooth_weight() < kIrregular;
  estimate_ = out;
}

void Thermometer::judge_side(double now_s, const Forecast& seen) {
  const bool was_inside = side_ == WindowState::inside;
  bool inside = was_inside ? seen.inside > kLeave : seen.inside >= kEnter;
  if (side_ && inside != was_inside && now_s - side_since_s_ < kHold_s) inside = was_inside;
  const double middle = (config_.window->low.value + config_.window->high.value) / 2;
  const WindowState outside = seen.temperature_c < middle ? WindowState::below : WindowState::above;
  if (!side_) side_since_s_ = now_s - (inside ? 0 : kHold_s);  // the first switch need not wait
  if (side_ && inside != was_inside) side_since_s_ = now_s;
  side_ = inside ? WindowState::inside : outside;
}

}  // namespace sumplog
