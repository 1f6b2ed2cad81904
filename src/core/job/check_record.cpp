#include "core/job/check_record.h"

#include <algorithm>

#include "core/job/hand_thermometer.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

constexpr Duration kReachesBack = std::chrono::minutes{11};  // entries are at most ten minutes late
// Before everything that a flow can be given, and far enough from the ends of the type to be subtracted from.
constexpr TimePoint kLongAgo = at_micros(-9000000000000000);
constexpr std::size_t kMostByHand = 64;  // own choice: one every ten seconds

std::string_view side_text(WindowState state) {
  return state == WindowState::below ? "below" : "above";
}

}  // namespace

CheckRecord::CheckRecord() {
  // Before the recording began nothing was seen.
  spells(Condition::reading).breaks(kLongAgo, "before the recording", true);
  spells(Condition::by_hand).breaks(kLongAgo, "", true);
}

void CheckRecord::note(TimePoint now, const std::vector<Objection>& objections,
                       const std::vector<std::string>& codes, const Belief& measured, const Belief& by_hand,
                       std::optional<TimePoint> read_at, bool exceeded) {
  std::array<std::optional<std::pair<std::string, bool>>, kConditions> broken;
  std::map<std::string_view, bool> unticked;
  for (const Objection& one : objections) {
    if (one.condition == Condition::ticked) unticked[one.detail] = true;
    broken[static_cast<std::size_t>(one.condition)].emplace(one.detail, one.unknown);
  }
  const auto set = [&](Condition condition, std::optional<std::pair<std::string, bool>> why) {
    broken[static_cast<std::size_t>(condition)] = std::move(why);
  };
  if (!codes.empty()) set(Condition::sensor_code, std::pair(joined(codes, "; "), false));
  set(Condition::reading, std::nullopt);
  set(Condition::window, std::nullopt);
  set(Condition::by_hand, std::nullopt);
  set(Condition::ticked, std::nullopt);
  if (measured.state == WindowState::unknown)
    set(Condition::reading, std::pair(measured.why, true));
  else if (measured.state != WindowState::inside)
    set(Condition::window, std::pair(std::string(side_text(measured.state)), false));
  if (by_hand.state == WindowState::unknown)
    set(Condition::by_hand, std::pair(std::string{}, true));
  else if (by_hand.state != WindowState::inside)
    set(Condition::by_hand, std::pair(std::string(side_text(by_hand.state)), false));
  if (exceeded) set(Condition::start_limit, std::pair(std::string{}, false));

  for (std::size_t i = 0; i < kConditions; ++i) {
    if (broken[i])
      spells_[i].breaks(now, broken[i]->first, broken[i]->second,
                        i == static_cast<std::size_t>(Condition::reading) ? read_at : std::nullopt);
    else
      spells_[i].holds(now);
  }
  for (const auto& [text, is] : unticked) ticks_[std::string(text)].breaks(now, "", false);
  for (auto& [text, spells] : ticks_)
    if (!unticked.contains(text)) spells.holds(now);
  forget(now);
}

void CheckRecord::forget(TimePoint now) {
  const TimePoint limit = out_ ? std::min(*out_, now - kReachesBack) : now - kReachesBack;
  for (Spells& one : spells_) one.forget_before(limit);
  for (auto& [text, spells] : ticks_) spells.forget_before(limit);
  while (!by_hand_.empty() && by_hand_.front() < limit - HandThermometer::kFresh) by_hand_.pop_front();
  // While the plug is out nothing of the course is asked for that was before.
  course_.forget_before(out_ ? *out_ : limit);
}

void CheckRecord::on_hand_reading(TimePoint at) {
  by_hand_.push_back(at);
  if (by_hand_.size() > kMostByHand) by_hand_.pop_front();
}

bool CheckRecord::known_by_hand(TimePoint at) const {
  const auto spell = of(Condition::by_hand).at(at);
  if (!spell || !spell->unknown) return true;
  // It is read in the stream, which runs only when the plug is out.
  return std::any_of(by_hand_.begin(), by_hand_.end(),
                     [&](TimePoint read) { return read >= at && read - at <= HandThermometer::kFresh; });
}

}  // namespace sumplog
