#include "core/job/selector_cycle.h"

#include <algorithm>

namespace sumplog {

SelectorCycle::SelectorCycle(const std::optional<ServiceFile>& service) {
  if (!service || !service->selector_cycle) return;
  engine_off_ = service->engine && service->engine->value == EngineState::stopped;
  // A position that is named twice (P at both ends) is held once, as long as the longer of both.
  for (const SelectorHold& one : service->selector_cycle->value) {
    const auto same = std::find_if(wanted_.begin(), wanted_.end(),
                                   [&](const SelectorHold& w) { return w.position == one.position; });
    if (same == wanted_.end())
      wanted_.push_back(one);
    else
      same->hold = std::max(same->hold, one.hold);
  }
}

std::optional<Duration> SelectorCycle::wanted(const std::string& position) const {
  for (const SelectorHold& one : wanted_)
    if (one.position == position) return one.hold;
  return std::nullopt;
}

bool SelectorCycle::enough(const std::string& position) const {
  return held_.contains(position) || ticked_.contains(position);
}

std::optional<std::string> SelectorCycle::missing() const {
  for (const SelectorHold& one : wanted_)
    if (!enough(one.position)) return one.position;
  return std::nullopt;
}

void SelectorCycle::on_position(TimePoint at, const std::string& position, bool hole,
                                std::optional<TimePoint> running_since, std::vector<Event>& events) {
  if (hole || position != position_) {
    end_hold(at, events);
    position_ = position;
    since_ = at;
  }
  if (!running_since) return;
  hold_ = std::max(hold_, at - std::max(since_, *running_since));
  const auto asked = wanted(position_);
  if (!asked || hold_ < *asked || held_.contains(position_)) return;
  const bool known = enough(position_);
  held_.insert(position_);
  ticked_.erase(position_);  // what is seen needs nobody's word
  if (!known)
    events.emplace_back(
        HoldEvent{at, position_, in_seconds(hold_), in_seconds(*asked), true, Quality::measured, !missing()});
}

void SelectorCycle::end_hold(TimePoint now, std::vector<Event>& events) {
  const auto asked = wanted(position_);
  if (asked && hold_ > Duration{0} && !enough(position_))
    events.emplace_back(
        HoldEvent{now, position_, in_seconds(hold_), in_seconds(*asked), false, Quality::measured, false});
  hold_ = {};
}

void SelectorCycle::forget_holds() {
  held_.clear();
  hold_ = {};
}

void SelectorCycle::on_engine_stopped() {
  if (engine_off_) return;
  forget_holds();
  ticked_.clear();
}

void SelectorCycle::on_engine_started() {
  if (!engine_off_) return;
  forget_holds();
  ticked_.clear();
}

void SelectorCycle::on_engine_unseen() {
  forget_holds();
}

void SelectorCycle::on_held_by_hand(TimePoint now, const std::string& position, std::optional<Duration> held,
                                    std::vector<Event>& events) {
  const auto asked = wanted(position);
  if (!asked) return;
  const bool long_enough = !held || *held >= *asked;
  if (long_enough && !held_.contains(position)) ticked_.insert(position);
  const auto held_s = held ? std::optional(in_seconds(*held)) : std::nullopt;
  events.emplace_back(HoldEvent{now, position, held_s, in_seconds(*asked), long_enough, Quality::by_hand,
                                long_enough && !missing()});
}

void SelectorCycle::on_done_by_hand(TimePoint now, std::vector<Event>& events) {
  while (const auto position = missing()) on_held_by_hand(now, *position, std::nullopt, events);
}

}  // namespace sumplog
