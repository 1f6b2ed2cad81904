#include "core/fluid/imbalance.h"

#include <cmath>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kCounterpart =
    60s;  // own choice: both figures stand on the same vessel, or on two beside each other
constexpr double kHalfMillilitre = 0.0005;  // what is printed as the limit counts as the limit

}  // namespace

std::string_view text_of(ImbalanceLevel level) {
  switch (level) {
    case ImbalanceLevel::balanced: return "balanced";
    case ImbalanceLevel::stop: return "stop";
    case ImbalanceLevel::abort: return "abort";
  }
  return "abort";
}

Imbalance::Imbalance(std::optional<ImbalanceLimits> limits) : limits_(limits) {}

void Imbalance::on_volumes(const std::vector<CountedVolume>& volumes, bool news, TimePoint now) {
  std::optional<double> ahead_l;
  const CountedVolume* last = nullptr;
  bool turns = false;  // the last entry goes the other way than the one before it
  for (const CountedVolume& one : volumes) {
    if (one.part != kExchangePart) continue;
    ahead_l = ahead_l.value_or(0) + (one.way == FluidWay::in ? one.litres : -one.litres);
    turns = last == nullptr || last->way != one.way;
    last = &one;
  }
  ahead_l_ = ahead_l;
  if (!news || last == nullptr) return;
  const double without_l = *ahead_l_ - (last->way == FluidWay::in ? last->litres : -last->litres);
  const bool waits = turns && std::abs(without_l) < std::abs(*ahead_l_);
  before_last_l_ = without_l;
  waits_until_.reset();
  if (waits) waits_until_ = now + kCounterpart;
}

ImbalanceLevel Imbalance::level_at(double ahead_l) const {
  const double off_l = std::abs(ahead_l) + kHalfMillilitre;
  if (off_l >= limits_->abort_l) return ImbalanceLevel::abort;
  return off_l >= limits_->stop_l ? ImbalanceLevel::stop : ImbalanceLevel::balanced;
}

std::optional<ImbalanceLevel> Imbalance::judge() const {
  if (!limits_ || !ahead_l_) return std::nullopt;
  const ImbalanceLevel now = level_at(*ahead_l_);
  if (!waits_until_) return now;
  const ImbalanceLevel before = level_at(before_last_l_);
  if (before == ImbalanceLevel::balanced && now != ImbalanceLevel::balanced) return std::nullopt;
  return before;
}

bool Imbalance::update(TimePoint now, std::vector<Event>& events) {
  if (waits_until_ && *waits_until_ <= now) waits_until_.reset();
  const auto level = judge();
  const bool changed = level != level_;
  level_ = level;
  if (!level) return changed;
  if (*level > said_) {
    const bool in = *ahead_l_ > 0;
    const bool abort = *level == ImbalanceLevel::abort;
    events.emplace_back(CueEvent{now, abort ? "imbalance_abort" : "imbalance_stop",
                                 "Exchange out of balance: " + fixed(std::abs(*ahead_l_), 1) + " L more " +
                                     (in ? "in" : "out") + " than " + (in ? "out" : "in") +
                                     (abort ? ". Abort: stop pump and engine, and find out why."
                                            : ". Stop, and make it even first.")});
  }
  said_ = *level;
  return changed;
}

std::optional<TimePoint> Imbalance::deadline() const {
  return limits_ ? waits_until_ : std::nullopt;
}

}  // namespace sumplog
