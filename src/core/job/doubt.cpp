#include "core/job/doubt.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/job/engine_speed.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Common practice, no source: constants that control units put in place of a failed sensor.
constexpr std::array kSubstitutes_c{0.0, 12.0, 60.0, 80.0, 90.0, 131.0, 135.0, 200.0};
constexpr double kOpenCircuit_c = -35;
constexpr double kShortCircuit_c = 150;

// Own choice, after rules of makers' own diagnostics as the trade tells them.
constexpr double kSame_c = 0.05;             // a reading that differs by less is the same one
constexpr double kNeighbourMoved_c = 5;      // while it stays the same, for a known substitute
constexpr Duration kSubstituteAfter = 60s;   // … for so long
constexpr double kNeighbourMovedFar_c = 20;  // … and for any other value
constexpr Duration kStuckAfter = 600s;
constexpr double kEqualBand_c = 1;      // a difference from the coolant within this …
constexpr double kFollowMoved_c = 6;    // … while it moves by this is no coincidence, around 0 °C
constexpr double kOffsetMoved_c = 10;   // … or around 5 and 10 °C
constexpr double kOffsetSlack_c = 0.6;  // of such a difference
constexpr std::array kOffsets_c{5.0, 10.0};
constexpr Duration kFollowAfter = 180s;
constexpr double kSoakAgree_c = 5;  // coolant and air agree within this after a night
constexpr double kSoakWarmest_c = 45;
constexpr double kSoakOff_c = 8;  // the fluid must agree within this
constexpr double kHandAgree_c = 5;
constexpr double kFahrenheitSlack_c = 4;
constexpr Duration kSoakEnds = 30s;  // of running engine: from then on they may differ
constexpr double kFallen_c = 3;      // in kFallSpan, while the engine idles and the coolant rises
constexpr double kJump_c = 5;        // within kSampleEvery
constexpr double kCoolantRose_c = 1;
constexpr Duration kFallSpan = 60s;
constexpr Duration kSampleEvery = 5s;
constexpr Duration kMixing = 300s;  // after fluid was added its temperature may fall

std::string degrees(double value) {
  return std::to_string(static_cast<int>(std::lround(value))) + " °C";
}

bool is_substitute(double value_c) {
  if (value_c <= kOpenCircuit_c || value_c >= kShortCircuit_c) return true;
  return std::any_of(kSubstitutes_c.begin(), kSubstitutes_c.end(),
                     [&](double one) { return std::abs(one - value_c) <= kSame_c; });
}

constexpr std::string_view kSecond = "; check it with a second thermometer";

}  // namespace

void Doubt::on_reading(const ReadingEvent& reading) {
  if (!reading.value || reading.quality != Quality::measured || !sources_.admits(reading)) return;
  const double value = *reading.value;
  if (reading.signal == "fluid_temperature") {
    on_fluid(reading.at, value);
  } else if (reading.signal == "coolant_temperature") {
    coolant_c_ = value;
    coolant_low_c_ = std::min(coolant_low_c_.value_or(value), value);
    coolant_high_c_ = std::max(coolant_high_c_.value_or(value), value);
  } else if (reading.signal == "intake_air_temperature") {
    intake_c_ = value;
    if (running_since_ && !intake_at_start_c_) intake_at_start_c_ = value;
  } else if (reading.signal == "ambient_temperature") {
    ambient_c_ = value;
  } else if (reading.signal == "vehicle_speed") {
    standing_ = value <= 0;
  } else if (reading.signal == "engine_speed") {
    if (value < kRunningRpm) {
      running_since_.reset();
    } else if (!running_since_) {
      running_since_ = reading.at;
      if (!intake_at_start_c_) intake_at_start_c_ = intake_c_;
    }
    if (running_since_ && reading.at - *running_since_ >= kSoakEnds) ran_ = true;
  }
}

void Doubt::on_gap() {
  fluid_c_.reset();
  coolant_c_.reset();
  intake_c_.reset();
  ambient_c_.reset();
  follow_.reset();
  minute_.clear();
  running_since_.reset();
  soak_settled_ = false;
}

void Doubt::on_compared(TimePoint at, double by_hand_c, double measured_c) {
  if (std::abs(by_hand_c - measured_c) > kHandAgree_c) return;
  soak_.clear();
  soak_settled_ = true;
  // Of what began after it, it says nothing.
  if (at >= same_since_) {
    same_since_ = at;
    coolant_low_c_ = coolant_high_c_ = coolant_c_;
  }
  if (follow_ && at >= follow_->since) follow_.reset();
  while (!minute_.empty() && at >= minute_.front().at) minute_.pop_front();
  judge();
}

void Doubt::on_fluid(TimePoint at, double fluid_c) {
  if (!fluid_c_ || std::abs(fluid_c - same_c_) > kSame_c) {
    same_since_ = at;
    same_c_ = fluid_c;
    coolant_low_c_ = coolant_high_c_ = coolant_c_;
  }
  fluid_c_ = fluid_c;
  fluid_at_ = at;
  if (std::string soak = soak_why(at, fluid_c); !soak.empty()) soak_ = std::move(soak);
  follow(at, fluid_c);
  remember(at, fluid_c);
  judge();
}

void Doubt::judge() {
  why_ = soak_;
  if (why_.empty()) why_ = constant_why();
  if (why_.empty()) why_ = follows_why();
  if (why_.empty()) why_ = falls_why();
}

std::string Doubt::constant_why() const {
  if (!coolant_low_c_ || !coolant_high_c_ || fluid_at_ < same_since_) return {};
  const double moved = *coolant_high_c_ - *coolant_low_c_;
  const Duration same = fluid_at_ - same_since_;
  const bool start_air = intake_at_start_c_ && std::abs(*intake_at_start_c_ - same_c_) <= 0.5;
  if ((is_substitute(same_c_) || start_air) && moved >= kNeighbourMoved_c && same >= kSubstituteAfter)
    return "stays at " + degrees(same_c_) + " while the coolant moves: perhaps a substitute value" +
           std::string(kSecond);
  if (moved >= kNeighbourMovedFar_c && same >= kStuckAfter)
    return "has stayed at " + degrees(same_c_) + " for 10 min while the coolant moved by " + degrees(moved) +
           std::string(kSecond);
  return {};
}

void Doubt::follow(TimePoint at, double fluid_c) {
  if (!coolant_c_) return;
  const double difference = fluid_c - *coolant_c_;
  const double low = follow_ ? std::min(follow_->low_c, difference) : difference;
  const double high = follow_ ? std::max(follow_->high_c, difference) : difference;
  if (!follow_ || high - low > 2 * kEqualBand_c) {
    follow_ = Follow{at, difference, difference, *coolant_c_, *coolant_c_};
    return;
  }
  follow_->low_c = low;
  follow_->high_c = high;
  follow_->coolant_low_c = std::min(follow_->coolant_low_c, *coolant_c_);
  follow_->coolant_high_c = std::max(follow_->coolant_high_c, *coolant_c_);
}

std::string Doubt::follows_why() const {
  if (!follow_ || fluid_at_ - follow_->since < kFollowAfter) return {};
  const double moved = follow_->coolant_high_c - follow_->coolant_low_c;
  if (follow_->low_c >= -kEqualBand_c && follow_->high_c <= kEqualBand_c && moved >= kFollowMoved_c)
    return "equals the coolant while that moves: perhaps it is the coolant" + std::string(kSecond);
  const double middle = std::abs((follow_->low_c + follow_->high_c) / 2);
  for (const double offset : kOffsets_c)
    if (std::abs(middle - offset) <= kOffsetSlack_c && moved >= kOffsetMoved_c)
      return "keeps " + degrees(offset) + " from the coolant while that moves: perhaps a substitute value" +
             std::string(kSecond);
  return {};
}

std::string Doubt::soak_why(TimePoint at, double fluid_c) {
  const auto& air = ambient_c_ ? ambient_c_ : intake_c_;
  if (ran_ || soak_settled_ || !coolant_c_ || !air) return {};
  if (running_since_ && at - *running_since_ > kSoakEnds) return {};
  if (*coolant_c_ > kSoakWarmest_c || std::abs(*coolant_c_ - *air) > kSoakAgree_c) return {};
  const double off = fluid_c - *coolant_c_;
  agreed_cold_ = std::abs(off) <= kSoakAgree_c;
  if (std::abs(off) < kSoakOff_c) return {};
  std::string text = "does not fit a cold engine: coolant and air agree at " + degrees(*coolant_c_) +
                     ", the fluid reads " + degrees(fluid_c);
  if (std::abs(fluid_c - (*coolant_c_ * 1.8 + 32)) <= kFahrenheitSlack_c)
    text += ", as if °F were taken for °C";
  else if (std::abs(std::abs(off) - 10) <= 3)
    text += ", as if the offset were wrong by 10 °C";
  return text + ": check the decoder" + std::string(kSecond);
}

void Doubt::remember(TimePoint at, double fluid_c) {
  // A jump is no fall: it is judged elsewhere, and what was before it says nothing about what comes.
  if (!minute_.empty() && std::abs(fluid_c - minute_.back().fluid_c) > kJump_c) minute_.clear();
  if (minute_.empty() || at - minute_.back().at >= kSampleEvery) minute_.push_back({at, fluid_c, coolant_c_});
  while (minute_.size() > 1 && at - minute_[1].at >= kFallSpan) minute_.pop_front();
}

std::string Doubt::falls_why() const {
  if (minute_.empty() || !fluid_c_) return {};
  const Sample& then = minute_.front();
  const bool mixing = changed_at_ && fluid_at_ - *changed_at_ < kMixing;
  const bool idled = running_since_ && *running_since_ <= then.at && standing_;
  if (fluid_at_ - then.at < kFallSpan || mixing || !idled || !then.coolant_c || !coolant_c_) return {};
  if (then.fluid_c - *fluid_c_ < kFallen_c || *coolant_c_ - *then.coolant_c < kCoolantRose_c) return {};
  return "falls while the engine idles and the coolant rises: is the sensor in the fluid?" +
         std::string(kSecond);
}

}  // namespace sumplog
