#include "core/asker/plan.h"

#include <algorithm>
#include <variant>

#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"

namespace sumplog {
namespace {

constexpr std::uint16_t kVinInfoType = 0x02;  // SAE J1979 service 09
constexpr std::string_view kFluidTemperature = "fluid_temperature";
constexpr int kFluidRank = 0;
constexpr int kSupportRank = 1;
constexpr int kVinRank = 2;
constexpr int kOtherRank = 3;
// Ours, no source: before an identifier that only a decoder names is used, the bus is heard for a while, so
// that the guard learns whether somebody else speaks on it. Vehicles repeat their broadcasts every second or
// faster.
constexpr Duration kListenFirst = std::chrono::seconds{2};

constexpr std::uint8_t range_of(std::uint16_t pid) {
  return static_cast<std::uint8_t>((pid - 1) / kSupportRange * kSupportRange);
}

Task once(TaskKind kind, std::uint8_t service, std::uint16_t id, int rank, TimePoint due) {
  Task task;
  task.kind = kind;
  task.service = service;
  task.id = id;
  task.rank = rank;
  task.due = due;
  return task;
}

}  // namespace

std::vector<std::uint8_t> Task::payload() const {
  if (service == service::kReadDataByIdentifier)
    return {service, static_cast<std::uint8_t>(id >> 8), static_cast<std::uint8_t>(id)};
  return {service, static_cast<std::uint8_t>(id)};
}

Plan::Plan(const std::vector<Decoder>& decoders, BusName bus, Duration fastest, TimePoint start) {
  tasks_.push_back(once(TaskKind::support, service::kCurrentData, 0, kSupportRank, start));
  tasks_.push_back(once(TaskKind::vin, service::kVehicleInformation, kVinInfoType, kVinRank, start));
  for (const Decoder& decoder : decoders)
    for (const Signal& signal : decoder.signals) add_signal(decoder, signal, bus, fastest, start);
}

void Plan::add_signal(const Decoder& decoder, const Signal& signal, BusName bus, Duration fastest,
                      TimePoint start) {
  if (signal.poll_period <= Duration::zero()) return;
  Task task;
  if (const auto* pid = std::get_if<PidSource>(&signal.source)) {
    task.kind = TaskKind::parameter;
    task.service = service::kCurrentData;
    task.id = pid->pid;
  } else if (const auto* did = std::get_if<DidSource>(&signal.source)) {
    task.kind = TaskKind::identifier;
    task.service = did->service;
    task.id = did->did;
  } else {
    return;  // a unit tells it by itself
  }
  task.rank = signal.name == kFluidTemperature ? kFluidRank : kOtherRank;
  task.period = std::max(signal.poll_period, fastest);
  task.due = start;
  if (signal.unit_id) {
    const auto unit = std::find_if(decoder.units.begin(), decoder.units.end(),
                                   [&](const Unit& one) { return one.id == *signal.unit_id; });
    if (unit == decoder.units.end()) return;  // the decoder's parser has refused such a file
    task.target = Endpoint{bus, unit->address.request, unit->address.request_address};
    if (may_be_named(unit->address.request)) task.due = start + kListenFirst;
  } else if (task.kind == TaskKind::parameter) {
    task.state = TaskState::waiting;
    task.why = "no unit has said that it has this";
  }
  const auto same = std::find_if(tasks_.begin(), tasks_.end(), [&](const Task& one) {
    return one.kind == task.kind && one.service == task.service && one.id == task.id &&
           one.target == task.target;
  });
  if (same == tasks_.end()) {
    tasks_.push_back(std::move(task));
  } else {
    same->period = std::min(same->period, task.period);
    same->rank = std::min(same->rank, task.rank);
  }
}

void Plan::on_support(const Endpoint& unit, const std::vector<std::uint8_t>& response) {
  constexpr std::size_t kLength = 6;  // 41, base, four bytes
  constexpr std::size_t kBits = 2;    // where the bitmap begins
  if (response.size() < kLength) return;
  const std::uint8_t base = response[1];
  ranges_.insert({unit, base});
  for (unsigned i = 0; i < kSupportRange; ++i) {
    const unsigned byte = response[kBits + i / 8];
    if ((byte >> (7 - i % 8) & 1U) != 0) pids_[unit].insert(static_cast<std::uint8_t>(base + 1 + i));
  }
}

bool Plan::supported(const AddressBook& book, const Endpoint& target, std::uint16_t pid) const {
  return std::any_of(pids_.begin(), pids_.end(), [&](const auto& one) {
    return book.request_to(one.first) == target && one.second.contains(static_cast<std::uint8_t>(pid));
  });
}

void Plan::on_range_known(const AddressBook& book, std::uint8_t base, TimePoint now) {
  const auto next = static_cast<std::uint8_t>(base + kSupportRange);
  bool wanted = false;
  for (Task& task : tasks_) {
    if (task.kind != TaskKind::parameter) continue;
    if (task.id > next) wanted = true;
    if (range_of(task.id) != base) continue;
    if (task.target) {
      const bool answered = std::any_of(ranges_.begin(), ranges_.end(), [&](const auto& one) {
        return one.second == base && book.request_to(one.first) == task.target;
      });
      if (!answered || supported(book, *task.target, task.id) || task.state == TaskState::denied) continue;
      task.state = TaskState::denied;
      task.why = "the unit says that it does not have this";
      continue;
    }
    const auto unit = std::find_if(pids_.begin(), pids_.end(), [&](const auto& one) {
      return one.second.contains(static_cast<std::uint8_t>(task.id)) && book.request_to(one.first);
    });
    if (unit == pids_.end()) continue;
    task.target = book.request_to(unit->first);
    task.state = TaskState::active;
    task.why.clear();
    task.due = std::max(task.due, now);
  }
  const bool there =
      std::any_of(pids_.begin(), pids_.end(), [&](const auto& one) { return one.second.contains(next); });
  const bool planned = std::any_of(tasks_.begin(), tasks_.end(), [&](const Task& one) {
    return one.kind == TaskKind::support && one.id == next;
  });
  if (wanted && there && !planned)
    tasks_.push_back(once(TaskKind::support, service::kCurrentData, next, kSupportRank, now));
}

}  // namespace sumplog
