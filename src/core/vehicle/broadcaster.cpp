#include "core/vehicle/broadcaster.h"

#include <algorithm>
#include <cassert>
#include <chrono>

namespace sumplog {
namespace {

constexpr std::uint32_t kRequest = 59904;         // SAE J1939-21, request for a group
constexpr std::uint32_t kAcknowledge = 59392;     // SAE J1939-21, acknowledgement
constexpr unsigned kDefaultPriority = 6;          // SAE J1939-21
constexpr unsigned kControlPriority = 3;          // SAE J1939-71, EEC1
constexpr std::uint8_t kNegativeAcknowledge = 1;  // SAE J1939-21, control byte
constexpr std::uint8_t kEverybody = 255;          // SAE J1939-21, global address
constexpr std::size_t kSingleFrame = 8;           // bytes
constexpr Duration kPacketGap =
    std::chrono::milliseconds{60};  // SAE J1939-21: 50…200 ms between packets of a BAM
constexpr Duration kFirstPhase = std::chrono::milliseconds{7};  // so that not all groups start at one moment
constexpr unsigned kBitsPerByte = 8;

unsigned priority_of(BroadcastGroup group) {
  switch (group) {  // SAE J1939-71
    case BroadcastGroup::engine_speed: return kControlPriority;
    case BroadcastGroup::gears:
    case BroadcastGroup::vehicle_identification:
    case BroadcastGroup::engine_temperature:
    case BroadcastGroup::vehicle_speed:
    case BroadcastGroup::transmission_fluids: return kDefaultPriority;
  }
  return kDefaultPriority;  // not reached: every group is above
}

bool told_by_transmission(BroadcastGroup group) {
  return group == BroadcastGroup::gears || group == BroadcastGroup::transmission_fluids;
}

Duration period_of(const J1939Plan& plan, BroadcastGroup group) {
  switch (group) {
    case BroadcastGroup::engine_speed: return plan.engine_speed;
    case BroadcastGroup::gears: return plan.gears;
    case BroadcastGroup::vehicle_identification: return plan.vehicle_identification;
    case BroadcastGroup::engine_temperature: return plan.engine_temperature;
    case BroadcastGroup::vehicle_speed: return plan.vehicle_speed;
    case BroadcastGroup::transmission_fluids: return plan.transmission_fluids;
  }
  return {};  // not reached: every group is above
}

}  // namespace

Broadcaster::Broadcaster(const Scenario& scenario, TimePoint start)
    : bus_(scenario.bus),
      vin_(scenario.vin),
      memory_(scenario.j1939 ? scenario.j1939->codes : std::vector<J1939CodePlan>{}) {
  TimePoint first = start + kFirstPhase;
  if (scenario.j1939) {
    for (const BroadcastGroup group : kBroadcastGroups) {
      const Duration period = period_of(*scenario.j1939, group);
      if (period <= Duration::zero()) continue;
      const std::uint8_t source =
          told_by_transmission(group) ? scenario.j1939->transmission_address : scenario.j1939->engine_address;
      groups_.push_back({group, pgn_of(group), priority_of(group), source, period, first});
      first += kFirstPhase;
    }
    const Duration period = scenario.j1939->fault_codes;
    for (const std::uint8_t source : {scenario.j1939->engine_address, scenario.j1939->transmission_address}) {
      if (period <= Duration::zero()) break;
      groups_.push_back({std::nullopt, kActiveCodes, kDefaultPriority, source, period, first});
      groups_.push_back({std::nullopt, kPreviouslyActiveCodes, kDefaultPriority, source, {}, {}});
      first += kFirstPhase;
    }
  }
  for (const BackgroundPlan& plan : scenario.background) {
    background_.push_back({plan, first, 0});
    first += kFirstPhase;
  }
}

void Broadcaster::broadcast(const Group& group, TimePoint now, const Drivetrain& drivetrain) {
  const std::uint32_t pgn = group.pgn;
  const std::vector<std::uint8_t> data =
      group.group ? group_data(*group.group, vin_, drivetrain) : memory_.message(pgn, group.source);
  if (data.size() <= kSingleFrame) {
    outbox_.push_back(data_frame(now, bus_, j1939_id(group.priority, pgn, kEverybody, group.source), data));
    return;
  }
  const bool announced = std::any_of(packets_.begin(), packets_.end(), [&](const auto& waiting) {
    return (waiting.second.id.value & 0xFFU) == group.source;
  });
  if (announced) return;  // one announced message at a time from each source
  TimePoint at = now;
  for (CanFrame& frame : announce_frames(pgn, group.source, data)) {
    frame.bus = bus_;
    frame.at = at;
    packets_.emplace_back(at, frame);
    at += kPacketGap;
  }
  std::stable_sort(packets_.begin(), packets_.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
}

std::optional<TimePoint> Broadcaster::deadline() const {
  std::optional<TimePoint> next;
  const auto consider = [&next](TimePoint at) {
    if (!next || at < *next) next = at;
  };
  for (const Group& group : groups_)
    if (group.period > Duration::zero()) consider(group.next);
  for (const Background& one : background_) consider(one.next);
  if (!packets_.empty()) consider(packets_.front().first);
  return next;
}

void Broadcaster::on_deadline(TimePoint now, const Drivetrain& drivetrain) {
  for (Group& group : groups_) {
    for (; group.period > Duration::zero() && group.next <= now; group.next += group.period)
      broadcast(group, group.next, drivetrain);
  }
  for (Background& one : background_) {
    for (; one.next <= now; one.next += one.plan.period) {
      assert(one.plan.length <= kSingleFrame);  // a scenario names no more
      std::vector<std::uint8_t> data(one.plan.length);
      if (!data.empty()) data.back() = static_cast<std::uint8_t>(one.plan.id.value);
      for (std::size_t i = 0; i + 1 < data.size(); ++i) {
        const std::size_t shift = kBitsPerByte * (data.size() - 2 - i);
        data[i] = static_cast<std::uint8_t>(one.counter >> shift);
      }
      ++one.counter;
      outbox_.push_back(data_frame(one.next, bus_, one.plan.id, data));
    }
  }
  while (!packets_.empty() && packets_.front().first <= now) {
    outbox_.push_back(packets_.front().second);
    packets_.pop_front();
  }
}

void Broadcaster::on_frame(const CanFrame& frame, const Drivetrain& drivetrain) {
  constexpr std::size_t kRequestBytes = 3;  // SAE J1939-21: PGN, little-endian
  constexpr std::uint32_t kIgnorePriorityAndAddresses = 0x03FF0000;
  const bool is_request = !groups_.empty() && frame.id.extended && frame.data().size() >= kRequestBytes &&
                          (frame.id.value & kIgnorePriorityAndAddresses) == kRequest << kBitsPerByte;
  if (!is_request) return;
  const auto destination = static_cast<std::uint8_t>(frame.id.value >> kBitsPerByte);
  const auto asker = static_cast<std::uint8_t>(frame.id.value);
  const std::uint32_t pgn = std::uint32_t{frame.bytes[0]} | std::uint32_t{frame.bytes[1]} << kBitsPerByte |
                            std::uint32_t{frame.bytes[2]} << (2 * kBitsPerByte);
  bool meant = false;
  bool told = false;
  for (const Group& group : groups_) {
    if (destination != kEverybody && destination != group.source) continue;
    meant = true;
    if (group.pgn != pgn) continue;
    broadcast(group, frame.at, drivetrain);
    told = true;
  }
  if (destination == kEverybody || !meant || told) return;
  // What was asked of one address alone and is not there is refused; a request to all is not.
  const std::array<std::uint8_t, kSingleFrame> refusal{kNegativeAcknowledge, kEverybody,    kEverybody,
                                                       kEverybody,           asker,         frame.bytes[0],
                                                       frame.bytes[1],       frame.bytes[2]};
  outbox_.push_back(
      data_frame(frame.at, bus_, j1939_id(kDefaultPriority, kAcknowledge, kEverybody, destination), refusal));
}

}  // namespace sumplog
