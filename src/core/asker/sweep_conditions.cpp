#include "core/asker/sweep_conditions.h"

#include <algorithm>
#include <variant>

#include "core/codes/code_answer.h"
#include "core/codes/fault_code.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/isotp/addressing.h"
#include "core/item/entry_names.h"
#include "core/item/json_line.h"
#include "core/job/entry_fields.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr std::uint8_t kVehicleSpeed = 0x0D;  // SAE J1979, service 01
constexpr std::string_view kSpeedSignal = "vehicle_speed";
constexpr std::uint8_t kListByMask = 0x02;  // ISO 14229-1, sub-function of ReadDTCInformation

// Ours, no source.
constexpr Duration kSpeedFresh = 3s;  // as a reading of the fluid temperature
constexpr double kMoves_km_h = 1;     // of a signal that may have decimals, and noise in them
constexpr Duration kCodesEvery = 30s;
constexpr Duration kCodesOld = 100s;   // three of these, and some
constexpr Duration kCodesSettle = 2s;  // other units answer the same question a little later
constexpr int kSilencesBelieved = 2;
constexpr int kCodesRank = 3;  // as the readings of a job

constexpr std::uint8_t kWorthStopping =
    code_status::kTestFailed | code_status::kPending | code_status::kConfirmed;

}  // namespace

SweepConditions::SweepConditions(BusName bus, const std::vector<Endpoint>& units, std::string ranges)
    : bus_(bus), ranges_(std::move(ranges)) {
  for (const std::uint8_t one : {service::kStoredCodes, service::kPendingCodes})
    polls_.push_back({std::nullopt, {one}, 0, {}, false});
  for (const Endpoint& unit : units)
    polls_.push_back(
        {unit, {service::kReadDtcInformation, kListByMask, code_status::kAnyFault}, 0, {}, false});
}

std::vector<Task> SweepConditions::polls(TimePoint now) const {
  std::vector<Task> tasks;
  for (const Poll& poll : polls_) {
    Task& task = tasks.emplace_back();
    task.kind = TaskKind::codes;
    task.service = poll.question.front();
    task.question = poll.question;
    task.target = poll.to;
    task.rank = kCodesRank;
    task.period = kCodesEvery;
    task.due = now;
    if (poll.to) task.most_failures = kSilencesBelieved;  // not every unit has that service
  }
  return tasks;
}

void SweepConditions::on_entry(const Entry& entry) {
  if (entry.name != kConfirmed || text_field(entry, "what") != kConfirmedSweep) return;
  if (text_field(entry, "origin") == ranges_) agreed_by_ = text_field(entry, "by").value_or("");
}

void SweepConditions::on_event(const Event& event) {
  const auto* reading = std::get_if<ReadingEvent>(&event);
  if (reading != nullptr && reading->signal == kSpeedSignal && reading->value)
    moves_ = moves_ || *reading->value >= kMoves_km_h;
}

void SweepConditions::on_exchange(const Exchange& exchange) {
  if (exchange.request.bus != bus_) return;
  on_speed(exchange);
  on_codes(exchange);
}

void SweepConditions::on_speed(const Exchange& exchange) {
  const auto& response = exchange.response;
  if (exchange.result != ExchangeResult::answered || exchange.asked[0] != service::kCurrentData) return;
  for (std::size_t i = 1; i + 1 < response.size();) {
    if (response[i] == kVehicleSpeed) {
      speed_ = {response[i + 1], exchange.ended_at};
      // Before the beginning a vehicle may still come to a stand.
      moves_ = response[i + 1] > 0 || (before_ && moves_);
      return;
    }
    const auto length = pid_length(response[i]);
    if (!length) return;
    i += 1 + *length;
  }
}

SweepConditions::Poll* SweepConditions::poll_of(const Exchange& exchange) {
  const auto found = std::find_if(polls_.begin(), polls_.end(), [&](const Poll& poll) {
    return poll.question == exchange.asked && (!poll.to || poll.to == exchange.request);
  });
  return found == polls_.end() ? nullptr : &*found;
}

void SweepConditions::on_codes(const Exchange& exchange) {
  Poll* const poll = poll_of(exchange);
  if (poll == nullptr) return;
  if (exchange.result == ExchangeResult::silent) ++poll->silences;
  if (!poll->settled_at && (exchange.result != ExchangeResult::silent || poll->silences >= kSilencesBelieved))
    poll->settled_at = exchange.ended_at;
  if (exchange.result != ExchangeResult::answered) return;
  const auto answer = read_code_answer(exchange.asked, exchange.response, CodeFormat::j2012);
  const auto* const list = answer ? std::get_if<CodeList>(&*answer) : nullptr;
  if (list == nullptr) return;
  poll->told = true;
  poll->silences = 0;
  told_[{*exchange.unit, exchange.asked}] = {exchange.ended_at, exchange.request};
  for (const ListedCode& listed : list->codes) {
    const std::uint8_t status = listed.status.value_or(code_status::kConfirmed);
    if ((status & kWorthStopping) == 0) continue;
    Code code{ecu_text(exchange.unit->id, exchange.unit->address), listed.code, false};
    take(code);
    code.failing = (status & code_status::kTestFailed) != 0;
    if (code.failing) take(code);
  }
}

void SweepConditions::take(const Code& code) {
  codes_.insert(code);
  if (before_ && !before_->contains(code) && !appeared_) appeared_ = code;
}

void SweepConditions::leave(const Endpoint& unit) {
  std::erase_if(told_, [&](const auto& one) { return one.second.request == unit; });
  std::erase_if(polls_, [&](const Poll& poll) { return poll.to == unit; });
}

std::optional<std::string> SweepConditions::hindrance(TimePoint now) const {
  if (agreed_by_.empty()) return "nobody has agreed to it";
  if (plug_out_) return "the plug is out: put it in first";
  if (moves_) return "the vehicle moves";
  if (auto unknown = pause(now)) return unknown;
  const bool all_settled = std::all_of(polls_.begin(), polls_.end(), [&](const Poll& poll) {
    return poll.settled_at && now - *poll.settled_at >= kCodesSettle;
  });
  if (!all_settled) return "the fault codes have not been read yet";
  if (std::none_of(polls_.begin(), polls_.end(), [](const Poll& poll) { return poll.told; }))
    return "no unit tells its fault codes";
  return std::nullopt;
}

void SweepConditions::begin(TimePoint now) {
  before_ = codes_;
  for (auto& [what, told] : told_) told.at = now;
}

std::optional<std::string> SweepConditions::pause(TimePoint now) const {
  if (!speed_) return "no unit tells the vehicle's speed (parameter 0D)";
  if (now - speed_->second > kSpeedFresh) return "the vehicle's speed is not known";
  return std::nullopt;
}

std::optional<std::string> SweepConditions::breach(TimePoint now) const {
  if (moves_) return "the vehicle moves";
  if (plug_out_) return "the plug came out";
  if (appeared_) return "fault code " + appeared_->code + " of " + appeared_->unit + " appeared";
  for (const auto& [what, told] : told_)
    if (now - told.at > kCodesOld)
      return ecu_text(what.first.id, what.first.address) + " does not tell its fault codes any more";
  return std::nullopt;
}

std::string SweepConditions::codes_before() const {
  std::set<std::string> texts;
  for (const Code& code : before_.value_or(codes_)) texts.insert(code.code + " of " + code.unit);
  std::string text;
  for (const std::string& one : texts) text += (text.empty() ? "" : ", ") + one;
  return text.empty() ? "none" : text;
}

}  // namespace sumplog
