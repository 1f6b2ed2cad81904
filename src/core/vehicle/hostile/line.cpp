#include "core/vehicle/hostile/line.h"

#include <algorithm>
#include <chrono>

#include "core/isotp/pci.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

// Invented, as everything that this bus does.
constexpr Duration kMostDoubledLate = 4ms;  // below kMostLateInMessage
constexpr Duration kLeastStall = 20ms;      // above kMostLateInMessage: nothing that is late is left behind
constexpr Duration kMostHeld = 3s;
constexpr std::uint64_t kMostChanged = 3;  // bytes

}  // namespace

bool part_of_a_message(const CanFrame& frame) {
  if (frame.kind != FrameKind::data || frame.length == 0) return false;
  // Mixed addressing: the control byte stands behind the address byte.
  const bool mixed = frame.id.extended && (frame.id.value >> 17) == (0x18CE0000U >> 17);
  if (mixed && frame.length < 2) return false;
  const std::uint8_t type = frame.bytes.at(mixed ? 1 : 0) & kPciTypeMask;
  return type == kPciFirst || type == kPciConsecutive;
}

Line::Line(const Plan& plan)
    : faults_(plan.faults),
      calm_from_(plan.scenario.start + plan.calm_from),
      bus_(plan.scenario.bus),
      random_(Random::at(plan.seed, 2)) {
  for (const UnitPlan& unit : plan.scenario.units) units_.push_back(unit.address.response);
}

Duration Line::within(Duration most) {
  return Duration{static_cast<Duration::rep>(random_.below(static_cast<std::uint64_t>(most.count()) + 1))};
}

CanId Line::other_unit(const CanFrame& frame) {
  const auto which = random_.below(kGhosts + units_.size());
  if (which < units_.size()) return units_[which];
  const auto ghost = static_cast<std::uint32_t>(which - units_.size());
  return frame.id.extended ? extended_id(kGhost29 + ghost) : standard_id(kGhost11 + ghost);
}

void Line::change(CanFrame& frame) {
  for (std::uint64_t n = 1 + random_.below(kMostChanged); n > 0 && frame.length > 0; --n)
    frame.bytes.at(random_.below(frame.length)) ^= static_cast<std::uint8_t>(1U << random_.below(8));
}

void Line::put(TimePoint due, const CanFrame& frame) {
  on_way_.emplace(std::max(due, stalled_until_), frame);
}

void Line::on_frame(const CanFrame& heard, TimePoint now) {
  CanFrame frame = heard;
  if (calm(now)) {
    put(now, frame);
    return;
  }
  if (happens(faults_.lost)) return;
  if (happens(faults_.overrun)) {
    ++overrun_;
    return;
  }
  if (happens(faults_.stall) && now >= stalled_until_)
    stalled_until_ = now + kLeastStall + within(kMostStall - kLeastStall);
  const bool part = part_of_a_message(frame);
  const bool unit = std::find(units_.begin(), units_.end(), frame.id) != units_.end();
  if (unit && !part && frame.kind == FrameKind::data && happens(faults_.misplaced)) {
    frame.id = other_unit(frame);
    frame.at = now;
    misplaced_.push_back(frame);
  }
  if (happens(faults_.corrupt)) change(frame);
  if (frame.kind == FrameKind::data && frame.length > 0 && happens(faults_.cut))
    frame.length = static_cast<std::uint8_t>(random_.below(frame.length));
  if (!frame.fd && frame.kind == FrameKind::data && happens(faults_.remote)) frame.kind = FrameKind::remote;
  TimePoint due = now;
  if (now >= stalled_until_ && happens(faults_.late)) due += within(part ? kMostLateInMessage : kMostLate);
  put(due, frame);
  // What is behind a stall keeps its order, the second copy of a part of a message too.
  if (part && now < stalled_until_) return;
  if (happens(faults_.doubled)) put(now + within(part ? kMostDoubledLate : kMostLate), frame);
}

std::vector<Item> Line::take(TimePoint now) {
  std::vector<Item> items;
  while (!on_way_.empty() && on_way_.begin()->first <= now) {
    CanFrame frame = on_way_.begin()->second;
    frame.at = on_way_.begin()->first;
    frame.bus = bus_;
    if (!calm(now) && happens(faults_.early)) frame.at -= within(kMostEarly);
    on_way_.erase(on_way_.begin());
    items.emplace_back(frame);
  }
  if (overrun_ > overrun_said_ && !items.empty()) {
    items.emplace_back(ReceiveDrops{now, bus_, overrun_ - overrun_said_});
    overrun_said_ = overrun_;
  }
  return items;
}

std::optional<TimePoint> Line::deadline() const {
  if (on_way_.empty()) return std::nullopt;
  return on_way_.begin()->first;
}

Line::Sending Line::send(TimePoint now) {
  if (calm(now)) return Sending::passes;
  if (happens(faults_.not_sent)) return Sending::refused;
  if (happens(faults_.vanished)) return Sending::vanishes;
  if (happens(faults_.held)) return Sending::held;
  return Sending::passes;
}

Duration Line::holding_time() {
  return within(kMostHeld);
}

bool Line::unheard(TimePoint now) {
  return !calm(now) && happens(faults_.unheard);
}

}  // namespace sumplog::hostile
