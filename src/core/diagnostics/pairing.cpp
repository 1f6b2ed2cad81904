#include "core/diagnostics/pairing.h"

#include <algorithm>

#include "core/diagnostics/service.h"

namespace sumplog {
namespace {

// ISO 14229-1: 7F, service, code.
constexpr std::size_t kNegativeLength = 3;

// Different questions to all units that are remembered; own choice, above what any tester asks in turn.
constexpr std::size_t kMostQuestions = 256;

constexpr char kUnasked[] = "answer without a request";

/// True when a positive answer carries what the request asked for: the same service, and the identifier
/// echoed.
bool echoes(const std::vector<std::uint8_t>& asked, const std::vector<std::uint8_t>& answer) {
  const auto asked_for = [&](std::uint8_t id) {
    return std::find(asked.begin() + 1, asked.end(), id) != asked.end();
  };
  switch (asked[0]) {
    case service::kCurrentData: return answer.size() >= 2 && asked_for(answer[1]);
    case service::kFreezeFrame:
    case service::kVehicleInformation:
    case service::kReadDtcInformation:
    case service::kReadDataByLocalIdentifier:
      return asked.size() >= 2 && answer.size() >= 2 && answer[1] == asked[1];
    case service::kReadDataByIdentifier:
      return asked.size() >= 3 && answer.size() >= 3 && answer[1] == asked[1] && answer[2] == asked[2];
  }
  return true;  // services without an identifier
}

/// ISO 14229-1, TesterPresent with suppressPosRspMsgIndicationBit.
bool wants_no_answer(const std::vector<std::uint8_t>& request) {
  constexpr std::uint8_t kTesterPresent = 0x3E;
  constexpr std::uint8_t kSuppressAnswer = 0x80;
  return request.size() >= 2 && request[0] == kTesterPresent && (request[1] & kSuppressAnswer) != 0;
}

}  // namespace

Pairing::Pairing(AddressBook book) : book_(std::move(book)) {}

Pairing::Asked* Pairing::find(const Message& answer) {
  const auto& payload = answer.payload;
  // ISO 14229-1: bit 6 of the service tells an answer from a request.
  if ((payload[0] & service::kPositiveOffset) == 0) return nullptr;
  const bool negative = payload[0] == service::kNegativeResponse;
  if (negative && payload.size() < kNegativeLength) return nullptr;
  const auto answered =
      negative ? payload[1] : static_cast<std::uint8_t>(payload[0] - service::kPositiveOffset);
  Asked* best = nullptr;
  for (auto& [request, asked] : asked_) {
    if (asked.request.payload.front() != answered || !book_.may_answer(request, answer.from)) continue;
    if (asked.done.contains(answer.from) || (!negative && !echoes(asked.request.payload, payload))) continue;
    // A unit that was asked by itself answers that question first.
    if (best == nullptr || (best->functional && !asked.functional)) best = &asked;
  }
  return best;
}

void Pairing::close(const Endpoint& key, TimePoint at, PairingStep& step) {
  const auto found = asked_.find(key);
  if (found == asked_.end()) return;
  const Asked asked = std::move(found->second);
  asked_.erase(found);
  Exchange silent;
  silent.asked_at = asked.request.at;
  silent.ended_at = at;
  silent.request = key;
  silent.asked = asked.request.payload;
  // A unit that asked for more time and then never answered is silent, whatever the others did.
  for (const auto& [unit, count] : asked.pending) {
    silent.unit = unit;
    silent.pending = count;
    step.exchanges.push_back(silent);
  }
  silent.pending = 0;
  if (asked.functional) {
    auto& regulars = regulars_[{key, asked.request.payload}];
    for (const Endpoint& unit : regulars) {
      if (asked.done.contains(unit) || asked.pending.contains(unit)) continue;
      silent.unit = unit;
      step.exchanges.push_back(silent);
    }
    const bool somebody_known = !regulars.empty();
    regulars = asked.done;
    if (regulars_.size() > kMostQuestions) regulars_.clear();
    if (somebody_known || !asked.pending.empty() || !asked.done.empty()) return;
    silent.unit.reset();
  } else {
    if (!asked.pending.empty()) return;  // had it answered, the question would be closed
    silent.unit = book_.response_of(key);
  }
  step.exchanges.push_back(std::move(silent));
}

void Pairing::close_overdue(TimePoint at, PairingStep& step) {
  std::vector<Endpoint> over;
  for (const auto& [request, asked] : asked_)
    if (asked.receiving.empty() && asked.deadline <= at) over.push_back(request);
  for (const Endpoint& request : over) close(request, at, step);
}

PairingStep Pairing::on_message(const Message& message) {
  PairingStep step;
  const auto addressing = book_.classify(message.from.id);
  if (!addressing || message.payload.empty()) return step;
  if (addressing->role != Role::response)
    on_request(message, addressing->role == Role::functional_request, step);
  else
    on_response(message, step);
  note_change();
  return step;
}

void Pairing::on_request(const Message& message, bool functional, PairingStep& step) {
  // Another tester's sign of life wants no answer: the question before it stays open.
  if (wants_no_answer(message.payload)) return;
  close(message.from, message.at, step);  // the tester gave up on the one before
  Asked asked;
  asked.request = message;
  asked.deadline = message.at + kAnswerTime;
  asked.functional = functional;
  asked_.insert_or_assign(message.from, std::move(asked));
}

void Pairing::on_response(const Message& message, PairingStep& step) {
  for (auto& [request, asked] : asked_) asked.receiving.erase(message.from);
  on_answer(message, step);
  close_overdue(message.at, step);
}

void Pairing::on_answer(const Message& message, PairingStep& step) {
  Asked* const asked = find(message);
  if (asked == nullptr) {
    step.losses.push_back({message.at, message.from, kUnasked, 1});
    return;
  }
  const auto& payload = message.payload;
  const bool negative = payload[0] == service::kNegativeResponse;
  if (negative && payload[2] == service::kResponsePending) {
    ++asked->pending[message.from];
    asked->deadline = std::max(asked->deadline, message.at + kP2StarClient);
    return;
  }
  Exchange exchange;
  exchange.asked_at = asked->request.at;
  exchange.ended_at = message.at;
  exchange.request = asked->request.from;
  exchange.unit = message.from;
  exchange.asked = asked->request.payload;
  if (const auto pending = asked->pending.find(message.from); pending != asked->pending.end()) {
    exchange.pending = pending->second;
    asked->pending.erase(pending);
  }
  if (negative) {
    exchange.result = ExchangeResult::refused;
    exchange.negative_code = payload[2];
  } else {
    exchange.result = ExchangeResult::answered;
    exchange.response = payload;
  }
  asked->done.insert(message.from);
  if (!asked->functional) asked_.erase(exchange.request);
  step.exchanges.push_back(std::move(exchange));
}

void Pairing::on_transfer(const Endpoint& unit) {
  if (transferring_ == unit) return;
  for (auto& [request, asked] : asked_)
    if (!asked.receiving.contains(unit) && !asked.done.contains(unit) && book_.may_answer(request, unit))
      asked.receiving.insert(unit);
  note_change();
  transferring_ = unit;
}

PairingStep Pairing::on_transfer_lost(const Endpoint& unit, TimePoint at) {
  PairingStep step;
  for (auto& [request, asked] : asked_) asked.receiving.erase(unit);
  close_overdue(at, step);
  note_change();
  return step;
}

PairingStep Pairing::on_deadline(TimePoint now) {
  PairingStep step;
  const auto due = due_;
  if (!due || *due > now) return step;
  for (auto& [request, asked] : asked_) {
    if (asked.deadline == *due && asked.receiving.empty()) {
      const Endpoint key = request;
      close(key, *due, step);
      break;
    }
  }
  note_change();
  return step;
}

void Pairing::note_change() {
  due_ = earliest();
  transferring_.reset();
}

std::optional<TimePoint> Pairing::earliest() const {
  std::optional<TimePoint> first;
  for (const auto& [request, asked] : asked_)
    if (asked.receiving.empty() && (!first || asked.deadline < *first)) first = asked.deadline;
  return first;
}

}  // namespace sumplog
