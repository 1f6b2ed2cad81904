#include "core/vehicle/fault_memory.h"

#include <algorithm>
#include <array>
#include <cassert>

#include "core/vehicle/field_bytes.h"
#include "core/vehicle/parameters.h"

namespace sumplog {
namespace {

// SAE J1979, parameters of service 01
constexpr std::uint8_t kMonitorStatus = 0x01;
constexpr std::uint8_t kDistanceWithLamp = 0x21;
constexpr std::uint8_t kWarmUps = 0x30;
constexpr std::uint8_t kDistanceSinceClear = 0x31;
constexpr std::uint8_t kTimeWithLamp = 0x4D;
constexpr std::uint8_t kTimeSinceClear = 0x4E;
constexpr std::array<std::uint8_t, 6> kTold{kMonitorStatus,      kDistanceWithLamp, kWarmUps,
                                            kDistanceSinceClear, kTimeWithLamp,     kTimeSinceClear};

// SAE J1979, PID 01
constexpr std::uint8_t kLampOn = 0x80;
constexpr std::size_t kMostCounted = 0x7F;
constexpr std::uint8_t kContinuousMonitors =
    0x07;  // byte B, bits 2…0; bits 6…4 say which of them have not run
constexpr unsigned kNotReadyShift = 4;

constexpr double kSecondsPerMinute = 60;
/// Every test is still to come. ISO 14229-1, statusOfDTC after a clear.
constexpr std::uint8_t kAfterClear =
    code_status::kNotCompletedSinceClear | code_status::kNotCompletedThisCycle;

std::vector<std::uint8_t> whole(double value) {
  FieldCoding coding;
  coding.bytes = 2;
  coding.rounding = Rounding::floor;
  return field_bytes(coding, value);
}

}  // namespace

FaultMemory::FaultMemory(FaultMemoryPlan plan) : plan_(std::move(plan)) {
  for (const CodePlan& code : plan_.codes) {
    Entry entry;
    entry.plan = code;
    if (code.there) {
      entry.status = code.status;
      entry.permanent = code.permanent;
      entry.holds_records = true;
    }
    entries_.push_back(std::move(entry));
  }
}

FaultMemory::Counter FaultMemory::now(const Drivetrain& drivetrain) {
  return {drivetrain.value(Quantity::odometer), in_seconds(drivetrain.engine_ran()) / kSecondsPerMinute};
}

void FaultMemory::begin(const Drivetrain& drivetrain) {
  const Counter start = now(drivetrain);
  since_clear_ = {plan_.distance_since_clear_km - start.km, plan_.time_since_clear_min - start.minutes};
  with_lamp_ = {plan_.distance_with_lamp_km, plan_.time_with_lamp_min};
  for (Entry& entry : entries_)
    if (entry.plan.there) take_frame(entry, drivetrain);
  follow_lamp(drivetrain);
}

void FaultMemory::take_frame(Entry& entry, const Drivetrain& drivetrain) const {
  if (entry.plan.freeze_frame.empty()) return;
  FreezeFrame frame;
  for (const FreezeFrameValue& one : entry.plan.freeze_frame) {
    if (one.bytes) {
      frame.emplace_back(one.pid, *one.bytes);
    } else {
      frame.emplace_back(
          one.pid, tells(one.pid) ? parameter(one.pid, drivetrain) : parameter_bytes(one.pid, drivetrain));
    }
  }
  entry.frame = std::move(frame);
}

void FaultMemory::apply(const CodeSets& change, const Drivetrain& drivetrain) {
  Entry& entry = entries_.at(change.code);
  entry.status = entry.plan.status;
  entry.permanent = entry.plan.permanent;
  entry.holds_records = true;
  take_frame(entry, drivetrain);
  follow_lamp(drivetrain);
}

void FaultMemory::apply(const CodeChanges& change, const Drivetrain& drivetrain) {
  Entry& entry = entries_.at(change.code);
  entry.status = change.status;
  if (change.permanent) entry.permanent = *change.permanent;
  follow_lamp(drivetrain);
}

void FaultMemory::apply(const CodeGoes& change, const Drivetrain& drivetrain) {
  Entry& entry = entries_.at(change.code);
  entry.status = 0;
  entry.permanent = false;
  entry.holds_records = false;
  entry.frame.reset();
  follow_lamp(drivetrain);
}

void FaultMemory::apply(const CodesCleared&, const Drivetrain& drivetrain) {
  for (Entry& entry : entries_) {
    entry.status = kAfterClear;
    entry.holds_records = false;
    entry.frame.reset();
  }
  cleared_ = true;
  plan_.warm_ups_since_clear = 0;
  const Counter start = now(drivetrain);
  since_clear_ = {-start.km, -start.minutes};
  follow_lamp(drivetrain);
  with_lamp_ = {};  // it is off: no code is stored any more
}

void FaultMemory::follow_lamp(const Drivetrain& drivetrain) {
  if (lamp() == lamp_was_on_) return;
  lamp_was_on_ = lamp();
  const Counter start = now(drivetrain);
  const double sign = lamp_was_on_ ? -1 : 1;
  with_lamp_ = {with_lamp_.km + sign * start.km, with_lamp_.minutes + sign * start.minutes};
}

std::vector<const FaultMemory::Entry*> FaultMemory::frames() const {
  std::vector<const Entry*> out;
  for (const Entry& entry : entries_)
    if (entry.frame) out.push_back(&entry);
  return out;
}

std::size_t FaultMemory::stored() const {
  return static_cast<std::size_t>(std::count_if(entries_.begin(), entries_.end(), [](const Entry& entry) {
    return (entry.status & code_status::kConfirmed) != 0;
  }));
}

bool FaultMemory::lamp() const {
  return plan_.lamp.value_or(stored() > 0) && !(cleared_ && stored() == 0);
}

bool FaultMemory::tells(std::uint8_t pid) {
  return std::find(kTold.begin(), kTold.end(), pid) != kTold.end();
}

std::vector<std::uint8_t> FaultMemory::readiness() const {
  auto [continuous, there, not_ready] = plan_.monitors;
  if (cleared_) {
    continuous = static_cast<std::uint8_t>(continuous | (continuous & kContinuousMonitors) << kNotReadyShift);
    not_ready = there;
  }
  const std::size_t counted = plan_.tells_j1979 ? std::min(stored(), kMostCounted) : 0;
  const bool on = plan_.tells_j1979 && lamp();
  return {static_cast<std::uint8_t>(counted | (on ? kLampOn : 0U)), continuous, there, not_ready};
}

std::vector<std::uint8_t> FaultMemory::parameter(std::uint8_t pid, const Drivetrain& drivetrain) const {
  assert(tells(pid));
  const Counter at = now(drivetrain);
  switch (pid) {  // wire values; the assertion holds the others back
    case kMonitorStatus: return readiness();
    case kWarmUps: return {plan_.warm_ups_since_clear};
    case kDistanceSinceClear: return whole(since_clear_.km + at.km);
    case kTimeSinceClear: return whole(since_clear_.minutes + at.minutes);
    case kDistanceWithLamp: return whole(with_lamp_.km + (lamp_was_on_ ? at.km : 0));
    default: return whole(with_lamp_.minutes + (lamp_was_on_ ? at.minutes : 0));  // kTimeWithLamp
  }
}

}  // namespace sumplog
