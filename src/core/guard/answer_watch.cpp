#include "core/guard/answer_watch.h"

#include <algorithm>

#include "core/diagnostics/exchange.h"
#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"
#include "core/isotp/pci.h"

namespace sumplog {
namespace {

// The unit waits this long for flow control (N_Bs), we as long for its next frame (N_Cr).
constexpr Duration kTransferIdle = std::max(kNBs, kNCr);
constexpr std::size_t kNegativeLength = 3;  // 7F, service, code

constexpr std::uint32_t kFirstResponse11 = 0x7E8;  // ISO 15765-4
constexpr std::uint32_t kLastResponse11 = 0x7EF;   // ISO 15765-4
constexpr std::uint32_t kResponse29 = 0x18DAF100;  // ISO 15765-4, unit in bits 0…7
constexpr std::uint32_t kAllButSource = 0xFFFFFF00;

bool answers_functional(const Endpoint& unit, const Endpoint& request) {
  if (unit.bus != request.bus || unit.address || unit.id.extended != request.id.extended) return false;
  if (unit.id.extended) return (unit.id.value & kAllButSource) == kResponse29;
  return unit.id.value >= kFirstResponse11 && unit.id.value <= kLastResponse11;
}

/// The beginning of a message: a single or a first frame.
struct Start {
  bool first_frame = false;
  std::uint64_t length = 0;
  std::span<const std::uint8_t> payload;  ///< the part of it in this frame
};

std::optional<Start> start_of(std::span<const std::uint8_t> body) {
  constexpr unsigned kLowBits = kPciLowMask;
  Start start;
  start.first_frame = (body[0] & kPciTypeMask) == kPciFirst;
  std::size_t header = start.first_frame ? kFirstPciBytes : kSinglePciBytes;
  if (body.size() < header) return std::nullopt;
  start.length = start.first_frame ? (body[0] & kLowBits) << 8 | body[1] : body[0] & kLowBits;
  if (start.length == 0) {  // escape: the length stands behind
    header = start.first_frame ? kFirstEscapeBytes : kSingleEscapeBytes;
    if (body.size() < header) return std::nullopt;
    for (std::size_t i = start.first_frame ? kFirstPciBytes : kSinglePciBytes; i < header; ++i)
      start.length = start.length << 8 | body[i];
  }
  const std::size_t here = body.size() - header;
  if (start.length == 0 || here == 0 || start.first_frame == (start.length <= here)) return std::nullopt;
  start.payload = body.subspan(header, start.first_frame ? here : start.length);
  return start;
}

}  // namespace

void AnswerWatch::on_own_request(const Endpoint& request, std::uint8_t service, TimePoint at) {
  // Requests that nobody can answer any more, and transfers that died, are forgotten here: the maps stay
  // small.
  std::erase_if(asked_, [at](const auto& one) {
    const auto& asked = one.second;
    return at > asked.until && std::all_of(asked.until_of.begin(), asked.until_of.end(),
                                           [at](const auto& unit) { return at > unit.second; });
  });
  std::erase_if(transfers_, [at](const auto& one) { return at - one.second.last_at > kTransferIdle; });
  asked_[request] = Asked{service, at + kAnswerTime, {}, {}};
}

AnswerWatch::Asked* AnswerWatch::asked_by_us(const AddressBook& book, const Endpoint& unit,
                                             std::uint8_t service, TimePoint at) {
  for (auto& [request, asked] : asked_) {
    if (asked.service != service || asked.answered.contains(unit)) continue;
    const bool functional = sending_identifier(request.id) == SendingIdentifier::functional;
    if (functional ? !answers_functional(unit, request) : !book.may_answer(request, unit)) continue;
    const auto pending = asked.until_of.find(unit);
    if (at <= (pending == asked.until_of.end() ? asked.until : pending->second)) return &asked;
  }
  return nullptr;
}

void AnswerWatch::on_unit_frame(const AddressBook& book, const Endpoint& unit,
                                std::span<const std::uint8_t> body, TimePoint at) {
  if (body.empty()) return;
  const auto type = static_cast<std::uint8_t>(body[0] & kPciTypeMask);
  if (type == kPciConsecutive) {
    const auto found = transfers_.find(unit);
    if (found == transfers_.end()) return;
    auto& transfer = found->second;
    transfer.last_at = at;
    transfer.bytes_left -= std::min<std::uint64_t>(transfer.bytes_left, body.size() - 1);
    if (transfer.bytes_left == 0) {
      transfers_.erase(found);
    } else if (transfer.block_left > 0 && --transfer.block_left == 0) {
      transfer.due = true;
    }
    return;
  }
  if (type != kPciSingle && type != kPciFirst) return;
  // Whatever begins now ends what the same unit was sending (ISO 15765-2, unexpected PDU).
  transfers_.erase(unit);
  const auto start = start_of(body);
  if (!start) return;
  if (!start->first_frame && start->payload[0] == service::kNegativeResponse) {
    if (start->payload.size() < kNegativeLength) return;
    auto* const asked = asked_by_us(book, unit, start->payload[1], at);
    if (asked == nullptr) return;
    if (start->payload[2] == service::kResponsePending) {
      asked->until_of[unit] = at + kP2StarClient;
    } else {
      asked->answered.insert(unit);
    }
    return;
  }
  if (start->payload[0] < service::kPositiveOffset) return;
  auto* const asked =
      asked_by_us(book, unit, static_cast<std::uint8_t>(start->payload[0] - service::kPositiveOffset), at);
  if (asked == nullptr) return;
  asked->answered.insert(unit);
  if (start->first_frame) transfers_[unit] = Transfer{at, start->length - start->payload.size(), true, 0};
}

std::optional<Endpoint> AnswerWatch::waiting_at(const AddressBook& book, const Endpoint& to,
                                                TimePoint now) const {
  for (const auto& [unit, transfer] : transfers_) {
    if (transfer.due && now - transfer.last_at <= kTransferIdle && book.request_to(unit) == to) return unit;
  }
  return std::nullopt;
}

void AnswerWatch::on_go_on(const Endpoint& unit, std::uint8_t block_size) {
  auto& transfer = transfers_.at(unit);
  transfer.due = false;
  transfer.block_left = block_size;
}

void AnswerWatch::on_overflow(const Endpoint& unit) {
  transfers_.erase(unit);
}

}  // namespace sumplog
