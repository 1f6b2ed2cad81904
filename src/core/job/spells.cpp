#include "core/job/spells.h"

#include <algorithm>

namespace sumplog {

void Spells::breaks(TimePoint at, std::string_view detail, bool unknown, std::optional<TimePoint> since) {
  const bool goes_on = !all_.empty() && all_.back().to == TimePoint::max();
  if (goes_on) {
    if (all_.back().detail == detail && all_.back().unknown == unknown) return;
    holds(at);
  }
  const TimePoint seen = goes_on ? at : std::min(at, since.value_or(at));
  all_.push_back({at, seen, TimePoint::max(), std::string(detail), unknown, {}});
  if (all_.size() <= kMost) return;
  Spell& second = all_[1];
  const Spell& first = all_[0];
  if (first.to - first.from > second.to - second.from) {
    second.detail = first.detail;
    second.unknown = first.unknown;
  }
  second.held_between += first.held_between + (second.from - first.to);
  second.from = first.from;
  second.since = first.since;
  all_.erase(all_.begin());
}

void Spells::holds(TimePoint at) {
  if (all_.empty() || all_.back().to != TimePoint::max()) return;
  all_.back().to = at;
  if (all_.back().from >= at) all_.pop_back();  // it was mended in the same moment
}

void Spells::forget_before(TimePoint at) {
  std::erase_if(all_, [&](const Spell& one) { return one.to <= at; });
}

std::optional<Spell> Spells::at(TimePoint at) const {
  for (const Spell& one : all_)
    if (one.from <= at && at < one.to) return one;
  return std::nullopt;
}

std::vector<Spell> Spells::between(TimePoint from, TimePoint to) const {
  std::vector<Spell> found;
  for (const Spell& one : all_) {
    if (one.to <= from || one.from >= to) continue;
    Spell cut = one;
    cut.from = std::max(one.from, from);
    cut.since = std::max(one.since, from);
    cut.to = std::min(one.to, to);
    cut.held_between = std::min(one.held_between, cut.to - cut.from);
    found.push_back(std::move(cut));
  }
  return found;
}

Duration lasted(const std::vector<Spell>& spells) {
  Duration all{};
  for (const Spell& one : spells) all += one.to - one.since - one.held_between;
  return all;
}

}  // namespace sumplog
