#include "core/guard/answer_watch.h"

#include <algorithm>

#include "core/diagnostics/exchange.h"
#include "core/guard/read_list.h"

namespace sumplog {
namespace {

constexpr Duration kTransferIdle = std::chrono::milliseconds{1000};  // ISO 15765-2: N_Bs and N_Cr
constexpr std::uint8_t kPositive = 0x40;  // ISO 14229-1: added to the service id in a positive response
constexpr std::uint8_t kNegative = 0x7F;  // ISO 14229-1: negative response service id
constexpr std::uint8_t kResponsePending = 0x78;  // ISO 14229-1 NRC
constexpr std::size_t kNegativeLength = 3;       // 7F, service, code

constexpr std::uint32_t kFirstResponse11 = 0x7E8;  // ISO 15765-4
constexpr std::uint32_t kLastResponse11 = 0x7EF;   // ISO 15765-4
constexpr std::uint32_t kResponse29 = 0x18DAF100;  // ISO 15765-4, unit in bits 0…7
constexpr std::uint32_t kAllButSource = 0xFFFFFF00;

bool answers_functional(const Endpoint& unit, const Endpoint& request) {
  if (unit.bus != request.bus || unit.address || unit.id.extended != request.id.extended) return false;
  if (unit.id.extended) return (unit.id.value & kAllButSource) == kResponse29;
  return unit.id.value >= kFirstResponse11 && unit.id.value <= kLastResponse11;
}

// offset | size | name                                  ISO 15765-2, single frame and first frame
// 0      | 1    | 0L: single frame of L bytes           L = 0: byte 1 is the length (CAN FD)
// 0      | 2    | 1L LL: first frame, length LLL        LLL = 0: bytes 2…5 are the length
struct Start {
  bool first_frame = false;
  std::uint64_t length = 0;
  std::span<const std::uint8_t> payload;  ///< the part of it in this frame
};

std::optional<Start> start_of(std::span<const std::uint8_t> body) {
  constexpr std::size_t kLongLength = 6;
  Start start;
  std::size_t header = 1;
  if (body[0] >> 4 == 0) {
    start.length = body[0] & 0x0FU;
    if (start.length == 0) {
      if (body.size() < 2) return std::nullopt;
      start.length = body[1];
      header = 2;
    }
    if (start.length == 0 || header + start.length > body.size()) return std::nullopt;
    start.payload = body.subspan(header, start.length);
    return start;
  }
  start.first_frame = true;
  if (body.size() < 2) return std::nullopt;
  header = 2;
  start.length = (body[0] & 0x0FU) << 8 | body[1];
  if (start.length == 0) {
    if (body.size() < kLongLength) return std::nullopt;
    header = kLongLength;
    for (std::size_t i = 2; i < kLongLength; ++i) start.length = start.length << 8 | body[i];
  }
  if (start.length <= body.size() - header || body.size() == header) return std::nullopt;
  start.payload = body.subspan(header);
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
  asked_[request] = Asked{service, at + kP2Client, {}, {}};
}

AnswerWatch::Asked* AnswerWatch::asked_by_us(const AddressBook& book, const Endpoint& unit,
                                             std::uint8_t service, TimePoint at) {
  for (auto& [request, asked] : asked_) {
    if (asked.service != service || asked.answered.contains(unit)) continue;
    const bool functional = sending_identifier(request.id) == SendingIdentifier::functional;
    if (functional ? !answers_functional(unit, request) : book.response_of(request) != unit) continue;
    const auto pending = asked.until_of.find(unit);
    if (at <= (pending == asked.until_of.end() ? asked.until : pending->second)) return &asked;
  }
  return nullptr;
}

void AnswerWatch::on_unit_frame(const AddressBook& book, const Endpoint& unit,
                                std::span<const std::uint8_t> body, TimePoint at) {
  if (body.empty()) return;
  constexpr std::uint8_t kFirstFrameType = 1;
  constexpr std::uint8_t kConsecutiveType = 2;
  const auto type = static_cast<std::uint8_t>(body[0] >> 4);
  if (type == kConsecutiveType) {
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
  if (type > kFirstFrameType) return;
  // Whatever begins now ends what the same unit was sending (ISO 15765-2, unexpected PDU).
  transfers_.erase(unit);
  const auto start = start_of(body);
  if (!start) return;
  if (!start->first_frame && start->payload[0] == kNegative) {
    if (start->payload.size() < kNegativeLength) return;
    auto* const asked = asked_by_us(book, unit, start->payload[1], at);
    if (asked == nullptr) return;
    if (start->payload[2] == kResponsePending) {
      asked->until_of[unit] = at + kP2StarClient;
    } else {
      asked->answered.insert(unit);
    }
    return;
  }
  if (start->payload[0] < kPositive) return;
  auto* const asked = asked_by_us(book, unit, static_cast<std::uint8_t>(start->payload[0] - kPositive), at);
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
