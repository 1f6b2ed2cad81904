#include "core/asker/plan.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <variant>

#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"
#include "core/isotp/pci.h"
#include "core/j1939/identifier.h"

namespace sumplog {
namespace {

// SAE J1979 service 09, InfoTypes
constexpr std::uint8_t kInformationSupport = 0x00;
constexpr std::uint8_t kVinInfoType = 0x02;
constexpr std::array<std::uint8_t, 3> kInformation{0x04, 0x06,
                                                   0x0A};  // calibration ids, CVN, name of the unit
constexpr std::size_t kBitmapAnswer = 6;                   // 41 or 49, base, four bytes
constexpr std::size_t kBitmapAt = 2;
constexpr std::string_view kFluidTemperature = "fluid_temperature";
constexpr int kSupportRank = 1;
constexpr int kVinRank = 2;
constexpr int kOtherRank = 3;
constexpr int kInformationRank = 4;
constexpr int kMostInformationFailures = 3;  // own choice: a name is not worth more
constexpr int kMostWhoFailures = 2;          // own choice: lost once may be chance
constexpr double kMicrosPerSecond = 1e6;
// Ours, no source: before an identifier that only a decoder names is used, the bus is heard for a while, so
// that the guard learns whether somebody else speaks on it. Vehicles repeat their broadcasts every second or
// faster.
constexpr Duration kListenFirst = std::chrono::seconds{2};

constexpr std::uint8_t range_of(std::uint32_t pid) {
  return static_cast<std::uint8_t>((pid - 1) / kSupportRange * kSupportRange);
}

template <class F>
void for_each_in_bitmap(const std::vector<std::uint8_t>& response, F use) {
  if (response.size() < kBitmapAnswer) return;
  for (unsigned i = 0; i < kSupportRange; ++i) {
    const unsigned byte = response[kBitmapAt + i / 8];
    if ((byte >> (7 - i % 8) & 1U) != 0) use(static_cast<std::uint8_t>(response[1] + 1 + i));
  }
}

Endpoint group_request(BusName bus, std::uint32_t to) {
  return {bus, extended_id(kGroupRequestBase | to << 8 | kOurJ1939Address), std::nullopt};
}

Task once(TaskKind kind, std::uint8_t service, std::uint32_t id, int rank, TimePoint due) {
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
  const auto low = static_cast<std::uint8_t>(id);
  const auto middle = static_cast<std::uint8_t>(id >> 8);
  if (kind == TaskKind::codes) return question;
  if (kind == TaskKind::group) return {low, middle, static_cast<std::uint8_t>(id >> 16)};  // SAE J1939-21
  if (service == service::kReadDataByIdentifier) return {service, middle, low};
  return {service, low};
}

Plan::Plan(const std::vector<Decoder>& decoders, BusName bus, double readings_per_second, PlanPurpose purpose,
           TimePoint start)
    : readings_per_second_(readings_per_second), purpose_(purpose) {
  assert(readings_per_second > 0);
  switch (purpose) {
    case PlanPurpose::job: add_questions_to_all(std::nullopt, start); break;
    case PlanPurpose::who:
      add_questions_to_all(false, start);
      add_questions_to_all(true, start);
      break;
  }
  if (purpose == PlanPurpose::who) add_claims(decoders, bus, start);
  for (const Decoder& decoder : decoders)
    for (const Signal& signal : decoder.signals) add_signal(decoder, signal, bus, start);
}

/// J1939 units say who they are when they are asked for their address claim (SAE J1939-81).
void Plan::add_claims(const std::vector<Decoder>& decoders, BusName bus, TimePoint start) {
  const bool wanted = std::any_of(decoders.begin(), decoders.end(), [](const Decoder& decoder) {
    return std::any_of(decoder.signals.begin(), decoder.signals.end(),
                       [](const Signal& signal) { return std::holds_alternative<SpnSource>(signal.source); });
  });
  if (!wanted) return;
  Task task = once(TaskKind::group, 0, kAddressClaimed, kInformationRank, start);
  task.target = group_request(bus, kGlobalAddress);
  task.most_failures = kMostWhoFailures;
  tasks_.push_back(std::move(task));
}

void Plan::add_questions_to_all(std::optional<bool> extended, TimePoint start) {
  const int tries = purpose_ == PlanPurpose::who ? kMostWhoFailures : 0;
  Task support = once(TaskKind::support, service::kCurrentData, 0, kSupportRank, start);
  Task vin = once(TaskKind::vin, service::kVehicleInformation, kVinInfoType, kVinRank, start);
  Task information =
      once(TaskKind::information, service::kVehicleInformation, kInformationSupport, kInformationRank, start);
  support.most_failures = vin.most_failures = tries;
  information.most_failures = kMostInformationFailures;
  for (Task* one : {&support, &vin, &information}) {
    one->extended = extended;
    tasks_.push_back(std::move(*one));
  }
}

/// At the usual rate the decoder's own period; a higher one shortens all of them alike.
Duration Plan::period_of(const Signal& signal) const {
  if (purpose_ == PlanPurpose::who) return Duration::zero();
  const double sooner = std::max(1.0, readings_per_second_ / kUsualReadingsPerSecond);
  const Duration wanted{static_cast<Duration::rep>(static_cast<double>(signal.poll_period.count()) / sooner)};
  const Duration fastest{static_cast<Duration::rep>(kMicrosPerSecond / readings_per_second_)};
  return std::max(wanted, fastest);
}

void Plan::add_signal(const Decoder& decoder, const Signal& signal, BusName bus, TimePoint start) {
  if (signal.poll_period <= Duration::zero()) return;
  Task task;
  if (const auto* pid = std::get_if<PidSource>(&signal.source)) {
    if (purpose_ == PlanPurpose::who) return;  // the bitmaps say it
    task.kind = TaskKind::parameter;
    task.service = service::kCurrentData;
    task.id = pid->pid;
  } else if (const auto* did = std::get_if<DidSource>(&signal.source)) {
    task.kind = TaskKind::identifier;
    task.service = did->service;
    task.id = did->did;
  } else {
    const auto& spn = std::get<SpnSource>(signal.source);  // what a unit tells by itself has no poll period
    // Asked of one unit, a group longer than one frame comes in a session with us; asked of all, it is announced
    // to all (SAE J1939-21).
    task.kind = TaskKind::group;
    task.id = spn.pgn;
    task.target = group_request(bus, spn.source_address.value_or(kGlobalAddress));
  }
  task.rank = signal.name == kFluidTemperature ? kFluidRank : kOtherRank;
  task.period = period_of(signal);
  if (purpose_ == PlanPurpose::who) task.most_failures = kMostWhoFailures;
  task.due = start;
  if (signal.unit_id) {
    const auto unit = std::find_if(decoder.units.begin(), decoder.units.end(),
                                   [&](const Unit& one) { return one.id == *signal.unit_id; });
    assert(unit != decoder.units.end());  // the decoder's parser has refused such a file
    task.target = Endpoint{bus, unit->address.request, unit->address.request_address};
    if (may_be_named(unit->address.request)) task.due = start + kListenFirst;
  } else if (task.kind == TaskKind::parameter) {
    task.state = TaskState::waiting;
    task.why = "no unit has said that it has this";
  }
  add(std::move(task));
}

void Plan::add_of_scan(Task task) {
  const auto same = std::find_if(tasks_.begin(), tasks_.end(), [&](const Task& one) {
    return one.of_scan && one.kind == task.kind && one.question == task.question && one.id == task.id &&
           one.target == task.target && one.extended == task.extended;
  });
  if (same == tasks_.end()) {
    tasks_.push_back(std::move(task));
  } else {
    *same = std::move(task);
  }
}

std::size_t Plan::open_of_scan() const {
  return static_cast<std::size_t>(std::count_if(tasks_.begin(), tasks_.end(), [](const Task& task) {
    return task.of_scan && task.state == TaskState::active;
  }));
}

void Plan::drop_of_scan(const std::string& why) {
  for (Task& task : tasks_) {
    if (!task.of_scan || task.state != TaskState::active) continue;
    task.state = TaskState::denied;
    task.why = why;
  }
}

void Plan::add(Task task) {
  const auto same = std::find_if(tasks_.begin(), tasks_.end(), [&](const Task& one) {
    return one.kind == task.kind && one.service == task.service && one.id == task.id &&
           one.target == task.target && one.extended == task.extended;
  });
  if (same == tasks_.end()) {
    tasks_.push_back(std::move(task));
  } else {
    same->period = std::min(same->period, task.period);
    same->rank = std::min(same->rank, task.rank);
  }
}

void Plan::on_support(const Endpoint& unit, const std::vector<std::uint8_t>& response) {
  if (response.size() < kBitmapAnswer) return;
  ranges_.insert({unit, response[1]});
  for_each_in_bitmap(response, [&](std::uint8_t pid) { pids_[unit].insert(pid); });
}

void Plan::on_information_support(const Endpoint& unit, const std::vector<std::uint8_t>& response) {
  for_each_in_bitmap(response, [&](std::uint8_t type) { information_.insert({unit, type}); });
}

void Plan::on_information_known(std::optional<bool> extended, TimePoint now) {
  for (const std::uint8_t type : kInformation) {
    const bool there = std::any_of(information_.begin(), information_.end(), [&](const auto& one) {
      return one.second == type && (!extended || one.first.id.extended == *extended);
    });
    if (!there) continue;
    Task task = once(TaskKind::information, service::kVehicleInformation, type, kInformationRank, now);
    task.most_failures = kMostInformationFailures;
    task.extended = extended;
    add(std::move(task));
  }
}

bool Plan::informed(std::uint8_t type, std::optional<bool> extended) const {
  return std::all_of(information_.begin(), information_.end(), [&](const auto& one) {
    const bool meant = one.second == type && (!extended || one.first.id.extended == *extended);
    return !meant || informed_.contains(one);
  });
}

bool Plan::supported(const AddressBook& book, const Endpoint& target, std::uint32_t pid) const {
  return std::any_of(pids_.begin(), pids_.end(), [&](const auto& one) {
    return book.request_to(one.first) == target && one.second.contains(static_cast<std::uint8_t>(pid));
  });
}

void Plan::on_range_known(const AddressBook& book, std::uint8_t base, std::optional<bool> extended,
                          TimePoint now) {
  const auto next = static_cast<std::uint8_t>(base + kSupportRange);
  bool wanted = purpose_ == PlanPurpose::who;
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
  const bool there = std::any_of(pids_.begin(), pids_.end(), [&](const auto& one) {
    return one.second.contains(next) && (!extended || one.first.id.extended == *extended);
  });
  // Behind E0 comes 00 again, which was asked first of all.
  const bool planned = std::any_of(tasks_.begin(), tasks_.end(), [&](const Task& one) {
    return one.kind == TaskKind::support && one.id == next && one.extended == extended;
  });
  if (!wanted || !there || planned) return;
  Task task = once(TaskKind::support, service::kCurrentData, next, kSupportRank, now);
  task.extended = extended;
  task.most_failures = purpose_ == PlanPurpose::who ? kMostWhoFailures : 0;
  tasks_.push_back(std::move(task));
}

}  // namespace sumplog
