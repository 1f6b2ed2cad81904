#include "core/asker/presence.h"

#include <algorithm>

namespace sumplog {
namespace {

using namespace std::chrono_literals;

// Ours, no source: see the header.
constexpr int kLeastNothings = 3;
constexpr Duration kSilent = 10s;
constexpr Duration kSilentButHeard = 60s;
constexpr Duration kNeverAnswered = 120s;
constexpr Duration kQuietBefore = 2s;  // vehicles that are awake repeat their frames every second or faster
constexpr Duration kFirstLook = 10s;
constexpr Duration kMostBetweenLooks = 60s;
constexpr Duration kLooksFor = 30min;

}  // namespace

Presence::Presence(TimePoint start) : since_(start) {}

bool Presence::heard_lately(TimePoint at) const {
  return heard_at_ && at - *heard_at_ < kSilent;
}

void Presence::on_own_frame(TimePoint at) {
  const bool after_quiet = !heard_at_ || at - *heard_at_ >= kQuietBefore;
  heard_at_ = at;
  if (off() && after_quiet) begin_anew(at);
}

void Presence::on_answer(TimePoint at) {
  ever_answered_ = true;
  begin_anew(at);
}

void Presence::begin_anew(TimePoint at) {
  since_ = std::max(since_, at);
  nothings_ = 0;
  off_since_.reset();
}

void Presence::on_nothing(TimePoint at) {
  ++nothings_;
  if (off() || nothings_ < kLeastNothings) return;
  const Duration limit = !ever_answered_ ? kNeverAnswered : heard_lately(at) ? kSilentButHeard : kSilent;
  if (at - since_ < limit) return;
  off_since_ = at;
  look_wait_ = kFirstLook;
  look_at_ = at + look_wait_;
}

std::optional<TimePoint> Presence::next_look() const {
  if (!off() || look_at_ - *off_since_ > kLooksFor) return std::nullopt;
  return look_at_;
}

bool Presence::take_look(TimePoint now) {
  const auto due = next_look();
  if (!due || *due > now) return false;
  look_wait_ = std::min(look_wait_ * 2, kMostBetweenLooks);
  look_at_ = now + look_wait_;
  // One that used to speak by itself will do so again before it can answer.
  return !heard_at_ || heard_lately(now);
}

}  // namespace sumplog
