#include "core/asker/code_scan.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <utility>
#include <variant>

#include "core/codes/code_answer.h"
#include "core/codes/fault_code.h"
#include "core/diagnostics/interpreter.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"

namespace sumplog {
namespace {

// Ours, no source.
constexpr int kScanRank = 1;          // the fluid temperature goes on
constexpr int kMostTries = 2;         // lost once may be chance
constexpr std::size_t kTogether = 8;  // tasks handed out at once: nothing else must wait long
constexpr Duration kLongestScan = std::chrono::minutes{5};
constexpr std::size_t kMostHeard = 512;  // as many as the transport knows

// SAE J1979, service 01
constexpr std::uint8_t kMonitorStatus = 0x01;
constexpr std::uint8_t kWarmUpsSinceCleared = 0x30;
constexpr std::uint8_t kDistanceSinceCleared = 0x31;
constexpr std::uint8_t kModuleVoltage = 0x42;
constexpr std::uint8_t kTimeSinceCleared = 0x4E;
constexpr std::uint8_t kFrozenBy = 0x02;  // service 02
constexpr std::uint8_t kFirstFrame = 0x00;

// ISO 14229-1, sub-functions of ReadDTCInformation
constexpr std::uint8_t kCountByMask = 0x01;
constexpr std::uint8_t kListByMask = 0x02;
constexpr std::uint8_t kSnapshot = 0x04;
constexpr std::uint8_t kExtendedData = 0x06;
constexpr std::uint8_t kEveryRecord = 0xFF;
constexpr std::uint8_t kWorthRecords =
    code_status::kTestFailed | code_status::kPending | code_status::kConfirmed;

constexpr std::uint8_t kServiceNotSupported = 0x11;  // negative response code

// SAE J1939-73
constexpr std::uint32_t kActiveCodes = 0xFECA;    // DM1
constexpr std::uint32_t kPreviousCodes = 0xFECB;  // DM2

// ISO 15765-4
constexpr std::uint32_t kFirstPhysical11 = 0x7E0;
constexpr std::uint32_t kUnits11 = 8;
constexpr std::uint32_t kPhysical29 = 0x18DA00F1;
constexpr std::uint32_t kUnits29 = 0x100;
constexpr std::uint32_t kTester = 0xF1;

const std::array<std::vector<std::uint8_t>, 8> kOfAll{{{service::kStoredCodes},
                                                       {service::kPendingCodes},
                                                       {service::kPermanentCodes},
                                                       {service::kCurrentData, kMonitorStatus},
                                                       {service::kCurrentData, kDistanceSinceCleared},
                                                       {service::kCurrentData, kWarmUpsSinceCleared},
                                                       {service::kCurrentData, kTimeSinceCleared},
                                                       {service::kCurrentData, kModuleVoltage}}};
constexpr std::size_t kLists = 3;  // of these, the first ones: each unit must tell them

Task task_for(std::vector<std::uint8_t> question) {
  Task task;
  task.kind = TaskKind::codes;
  task.service = question.front();
  task.question = std::move(question);
  task.rank = kScanRank;
  task.most_failures = kMostTries;
  task.of_scan = true;
  return task;
}

Task group_task(BusName bus, std::uint32_t group) {
  Task task;
  task.kind = TaskKind::group;
  task.id = group;
  task.target =
      Endpoint{bus, extended_id(kGroupRequestBase | std::uint32_t{kGlobalAddress} << 8 | kOurJ1939Address),
               std::nullopt};
  task.rank = kScanRank;
  task.most_failures = kMostTries;
  task.of_scan = true;
  return task;
}

}  // namespace

CodeScan::CodeScan(const std::vector<Decoder>& decoders, BusName bus, std::map<Endpoint, bool> heard,
                   TimePoint begun)
    : book_(named_units(decoders)), bus_(bus), begun_(begun), heard_(std::move(heard)) {
  for (const Decoder& decoder : decoders) {
    for (const Signal& signal : decoder.signals) {
      if (const auto* pid = std::get_if<PidSource>(&signal.source)) parameters_.insert(pid->pid);
      if (std::holds_alternative<SpnSource>(signal.source)) j1939_ = true;
    }
  }
}

bool CodeScan::takes_too_long(TimePoint now) const {
  return now - begun_ > kLongestScan;
}

/// Identifiers of this length are worth using: some unit answers on them, or none has answered at all.
bool CodeScan::talks(bool extended) const {
  return heard_.empty() || std::any_of(heard_.begin(), heard_.end(),
                                       [&](const auto& one) { return one.first.id.extended == extended; });
}

void CodeScan::ask(const Endpoint& to, Question question) {
  if (!asked_.insert({to, question}).second) return;
  Task task = task_for(std::move(question));
  task.target = to;
  queue_.push_back(std::move(task));
}

void CodeScan::ask_all(bool extended, Question question) {
  Task task = task_for(std::move(question));
  task.extended = extended;
  queue_.push_back(std::move(task));
}

void CodeScan::begin_all_units() {
  for (const bool extended : {false, true}) {
    if (!talks(extended)) continue;
    for (const Question& question : kOfAll) ask_all(extended, question);
  }
  if (!j1939_) return;
  for (const std::uint32_t group : {kActiveCodes, kPreviousCodes}) queue_.push_back(group_task(bus_, group));
}

void CodeScan::begin_each_unit() {
  // What a unit did not tell when all were asked, it is asked alone: then silence is its own.
  std::vector<Endpoint> units;
  for (const auto& [unit, emission_related] : heard_) {
    const auto to = book_.request_to(unit);
    if (!to) continue;
    units.push_back(*to);
    if (!emission_related) continue;
    for (std::size_t i = 0; i < kLists; ++i)
      if (!told_.contains({*to, kOfAll[i]})) ask(*to, kOfAll[i]);
  }
  for (const UnitAddress& named : book_.named())
    units.push_back({bus_, named.request, named.request_address});
  if (talks(false))
    for (std::uint32_t i = 0; i < kUnits11; ++i)
      units.push_back({bus_, standard_id(kFirstPhysical11 + i), std::nullopt});
  // Where nobody has answered, the long way through all addresses would only take time.
  if (talks(true) && !heard_.empty())
    for (std::uint32_t target = 0; target < kUnits29; ++target)
      if (target != kTester) units.push_back({bus_, extended_id(kPhysical29 | target << 8), std::nullopt});
  for (const Endpoint& to : units)
    ask(to, {service::kReadDtcInformation, kCountByMask, code_status::kAnyFault});
}

std::vector<Task> CodeScan::take(std::size_t open, TimePoint now) {
  if (queue_.empty() && open == 0) {
    switch (step_) {
      case Step::all_units:
        if (!begun_all_) {
          begun_all_ = true;
          begin_all_units();
          break;
        }
        step_ = Step::each_unit;
        begin_each_unit();
        break;
      case Step::each_unit: step_ = Step::done; break;
      case Step::done: break;
    }
  }
  std::vector<Task> tasks;
  while (!queue_.empty() && open + tasks.size() < kTogether) {
    tasks.push_back(std::move(queue_.front()));
    queue_.pop_front();
    tasks.back().due = now;
  }
  return tasks;
}

void note_heard(const Exchange& exchange, std::map<Endpoint, bool>& heard) {
  assert(exchange.unit);  // an answer has somebody who gave it
  if (heard.size() >= kMostHeard && !heard.contains(*exchange.unit)) return;
  bool& emission_related = heard[*exchange.unit];
  if (exchange.result == ExchangeResult::answered && exchange.asked[0] <= service::kPermanentCodes)
    emission_related = true;
}

void CodeScan::on_exchange(const Exchange& exchange) {
  note_heard(exchange, heard_);
  const bool answered = exchange.result == ExchangeResult::answered;
  const auto to = book_.request_to(*exchange.unit);
  if (!to) return;
  told_.insert({*to, exchange.asked});
  const bool counts = exchange.asked.size() > 1 && exchange.asked[0] == service::kReadDtcInformation &&
                      exchange.asked[1] == kCountByMask;
  const bool service_unknown =
      exchange.result == ExchangeResult::refused && exchange.negative_code == kServiceNotSupported;
  if (counts) {
    // Refused or not, the list may be readable all the same; unless the unit has no such service.
    if (!service_unknown) ask(*to, {service::kReadDtcInformation, kListByMask, code_status::kAnyFault});
    return;
  }
  if (!answered) return;
  if (exchange.asked[0] == service::kFreezeFrame) {
    on_frozen(exchange);
  } else if (asks_for_codes(exchange.asked)) {
    on_codes(exchange);
  }
}

/// Codes that were told make more worth asking.
void CodeScan::on_codes(const Exchange& exchange) {
  const Endpoint to = *book_.request_to(*exchange.unit);
  const auto answer = read_code_answer(exchange.asked, exchange.response, CodeFormat::j2012);
  const auto* const list = answer ? std::get_if<CodeList>(&*answer) : nullptr;
  if (list == nullptr || list->codes.empty()) return;
  if (exchange.asked[0] == service::kStoredCodes) ask(to, {service::kFreezeFrame, kFrozenBy, kFirstFrame});
  if (exchange.asked[0] != service::kReadDtcInformation || exchange.asked[1] != kListByMask) return;
  constexpr std::size_t kHead = 3;  // 59 02 and the mask
  constexpr std::size_t kRecord = 4;
  for (std::size_t i = 0; i < list->codes.size(); ++i) {
    if ((list->codes[i].status.value_or(0) & kWorthRecords) == 0) continue;
    const auto* const code = &exchange.response[kHead + kRecord * i];
    for (const std::uint8_t kind : {kSnapshot, kExtendedData})
      ask(to, {service::kReadDtcInformation, kind, code[0], code[1], code[2], kEveryRecord});
  }
}

void CodeScan::on_frozen(const Exchange& exchange) {
  const Endpoint to = *book_.request_to(*exchange.unit);
  const auto answer = read_code_answer(exchange.asked, exchange.response, CodeFormat::j2012);
  if (!answer) return;
  if (const auto* code = std::get_if<FrozenCode>(&*answer)) {
    if (code->code) ask(to, {service::kFreezeFrame, 0x00, kFirstFrame});
    return;
  }
  const auto* const values = std::get_if<FrozenValues>(&*answer);
  if (values == nullptr || values->values.size() != 1) return;
  const auto& [base, bits] = values->values.front();
  if (base % kSupportRange != 0) return;
  for (unsigned i = 0; i < kSupportRange; ++i) {  // a bitmap has four bytes (pid_length)
    if ((bits[i / 8] >> (7 - i % 8) & 1U) == 0) continue;
    const auto pid = static_cast<std::uint8_t>(base + 1 + i);
    if (pid == kFrozenBy) continue;
    const bool next_range = pid != 0 && pid % kSupportRange == 0;
    // One at a time: not every unit takes several, and there is no hurry.
    if (next_range || (parameters_.contains(pid) && pid_length(pid)))
      ask(to, {service::kFreezeFrame, pid, kFirstFrame});
  }
}

}  // namespace sumplog
