#include "core/thermal/reading_intake.h"

#include <algorithm>
#include <cmath>
#include <span>

namespace sumplog {
namespace {

// Own research (docs/thermometer.md) where no other source is named.
constexpr double kTick_s = 0.95;  // readings once a second make a tick each, with jitter
constexpr double kLowest_c =
    -39.5;  // SAE J1979: −40 is the raw zero of its temperatures, what a broken wire gives
constexpr double kHighest_c = 200;  // beyond any fluid; 215 is the raw FF of SAE J1979
constexpr double kGateSteps = 1.5;
constexpr double kGate_c = 1;
constexpr double kGateRate_c_per_s = 0.15;  // 9 °C/min: no transmission warms faster
constexpr double kJumpStays_s = 8;
constexpr int kPlausible = 3;            // changes that end the doubt after a jump
constexpr double kReturnsWithin_s = 60;  // how far a fluid may go meanwhile, at the gate's rate
constexpr double kAnew_s = 600;          // after such a silence everything begins anew
constexpr double kStepUnknown_c = 1;     // of a fine scale, until a change was seen
constexpr double kTrustedStep_c = 0.25;  // a told step from here on is the converter's own
constexpr double kCoarseFactor = 2;
constexpr double kStepSeenWithin_s = 5;
constexpr double kMostCounted = 200;
constexpr double kFirstInterval_s = 5;
constexpr double kLongestInterval_s = 60;
constexpr double kIntervalGain = 0.15;
constexpr double kStillFactor = 12;
constexpr double kStill_s = 15;

}  // namespace

ReadingIntake::ReadingIntake(double told_step_c)
    : told_step_c_(told_step_c),
      step_c_(told_step_c >= kTrustedStep_c ? told_step_c : kStepUnknown_c),
      change_interval_s_(kFirstInterval_s) {}

Intake ReadingIntake::begin(double at_s, double reading_c) {
  begun_ = true;
  substitute_ = false;
  suspicious_ = false;
  last_s_ = tick_s_ = changed_s_ = at_s;
  last_c_ = tick_c_ = mean_c_ = reading_c;
  sum_c_ = 0;
  samples_ = 0;
  return Intake::restart;
}

Intake ReadingIntake::accept_jump(double at_s, double reading_c) {
  // A jump back to where the fluid was is the end of a substitute, not another one.
  const double reach =
      kGateSteps * step_c_ + kGate_c + kGateRate_c_per_s * std::min(at_s - before_jump_s_, kReturnsWithin_s);
  const bool returned = substitute_ && std::abs(reading_c - before_jump_c_) <= reach;
  if (!substitute_) {
    before_jump_s_ = last_s_;
    before_jump_c_ = last_c_;
  }
  change_count_ = 0;
  if (step_c_ > kCoarseFactor * told_step_c_) step_c_ = told_step_c_;
  begin(at_s, reading_c);
  substitute_ = !returned;
  plausible_changes_ = 0;
  return Intake::restart;
}

Intake ReadingIntake::on_reading(double at_s, double reading_c) {
  if (!(reading_c > kLowest_c && reading_c < kHighest_c)) return Intake::out_of_range;
  if (!begun_ || at_s < last_s_ || at_s - last_s_ > kAnew_s) return begin(at_s, reading_c);
  const double near = kGateSteps * step_c_ + kGate_c;
  if (std::abs(reading_c - last_c_) > near + kGateRate_c_per_s * (at_s - last_s_)) {
    if (!suspicious_ || std::abs(reading_c - suspicious_c_) > near) {
      suspicious_ = true;
      suspicious_since_s_ = at_s;
    }
    suspicious_c_ = reading_c;
    if (at_s - suspicious_since_s_ < kJumpStays_s) return Intake::suspicious;
    return accept_jump(at_s, reading_c);
  }
  suspicious_ = false;
  if (reading_c != last_c_) count_change(at_s, reading_c);
  last_c_ = reading_c;
  last_s_ = at_s;
  sum_c_ += reading_c;
  ++samples_;
  if (at_s - tick_s_ < kTick_s) return Intake::held;
  find_step(reading_c == tick_c_);
  tick_s_ = at_s;
  tick_c_ = reading_c;
  mean_c_ = sum_c_ / samples_;
  sum_c_ = 0;
  samples_ = 0;
  return Intake::tick;
}

void ReadingIntake::count_change(double at_s, double reading_c) {
  // Over a hole the fluid went through several steps at once.
  if (at_s - last_s_ <= kStepSeenWithin_s) {
    if (change_count_ < kChanges) {
      ++change_count_;
    } else {
      std::shift_left(changes_.begin(), changes_.end(), 1);
    }
    changes_[change_count_ - 1] = std::abs(reading_c - last_c_);
  }
  if (++plausible_changes_ >= kPlausible) substitute_ = false;
  change_interval_s_ +=
      kIntervalGain * (std::min(at_s - changed_s_, kLongestInterval_s) - change_interval_s_);
  changed_s_ = at_s;
}

void ReadingIntake::find_step(bool same) {
  (same ? same_ : different_) += 1;
  if (same_ + different_ > kMostCounted) {
    same_ = std::floor(same_ / 2);
    different_ = std::floor(different_ / 2);
  }
  if (change_count_ == 0) return;
  std::array<double, kChanges> sorted = changes_;
  const std::span known = std::span(sorted).first(change_count_);
  std::sort(known.begin(), known.end());
  const double median = known[change_count_ / 2];
  // Big changes and mostly none: the converter is coarser than the scale behind which it stands.
  const bool coarse = median > kCoarseFactor * told_step_c_ && different_ < (same_ + different_) / 2;
  step_c_ = coarse ? median : told_step_c_;
}

bool ReadingIntake::still_too_long() const {
  return tick_s_ - changed_s_ > std::max(kStill_s, kStillFactor * change_interval_s_);
}

}  // namespace sumplog
