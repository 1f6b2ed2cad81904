#include "core/vehicle/fault_services.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <optional>

#include "core/diagnostics/service.h"
#include "core/vehicle/parameters.h"

namespace sumplog {
namespace {

using Bytes = std::vector<std::uint8_t>;
using Request = std::span<const std::uint8_t>;

constexpr std::uint8_t kClearCodes = 0x04;        // SAE J1979
constexpr std::uint8_t kClearInformation = 0x14;  // ISO 14229-1, ClearDiagnosticInformation
constexpr std::size_t kClearInformationBytes = 4;

constexpr std::uint8_t kFrameCode = 0x02;    // SAE J1979, PID 02: the code that stored the freeze frame
constexpr std::size_t kMostFrameValues = 3;  // SAE J1979, PIDs in one request of service 02
constexpr std::size_t kMostCodes = 0xFF;     // the count is one byte, ISO 15765-4
constexpr unsigned kBitsPerByte = 8;

// ISO 14229-1, ReadDTCInformation
constexpr std::uint8_t kSuppress = 0x80;  // suppressPosRspMsgIndicationBit
constexpr std::uint8_t kNumberByMask = 0x01;
constexpr std::uint8_t kCodesByMask = 0x02;
constexpr std::uint8_t kSnapshotByCode = 0x04;
constexpr std::uint8_t kExtendedByCode = 0x06;
constexpr std::uint8_t kSupportedCodes = 0x0A;
constexpr std::uint8_t kAllRecords = 0xFF;
constexpr std::size_t kMaskBytes = 3;    // service, sub-function, mask
constexpr std::size_t kRecordBytes = 6;  // service, sub-function, code (3), record number
constexpr std::size_t kPlainBytes = 2;   // service, sub-function

std::uint8_t positive(Request request) {
  return static_cast<std::uint8_t>(request.front() + service::kPositiveOffset);
}

void append(Bytes& to, Request bytes) {
  to.insert(to.end(), bytes.begin(), bytes.end());
}
void append_two(Bytes& to, std::size_t value) {
  to.push_back(static_cast<std::uint8_t>(value >> kBitsPerByte));
  to.push_back(static_cast<std::uint8_t>(value));
}
void append_three(Bytes& to, const J2012Code& code) {
  append_two(to, code.code);
  to.push_back(code.failure_type.value_or(0));
}

ServiceAnswer codes(Request request, const FaultMemory& memory) {
  if (request.size() != 1) return refusal::kIncorrectLength;
  Bytes listed;
  std::size_t count = 0;
  for (const FaultMemory::Entry& entry : memory.entries()) {
    bool there = entry.permanent;
    if (request.front() == service::kStoredCodes) there = (entry.status & code_status::kConfirmed) != 0;
    if (request.front() == service::kPendingCodes) there = (entry.status & code_status::kPending) != 0;
    if (!there || count == kMostCodes) continue;
    ++count;
    append_two(listed, entry.plan.code.code);
  }
  Bytes bytes{positive(request), static_cast<std::uint8_t>(count)};
  append(bytes, listed);
  return bytes;
}

/// The parameters of a freeze frame that a bitmap tells of.
Bytes frame_parameters(const FaultMemory::Entry* frame) {
  Bytes pids{kFrameCode};
  if (frame != nullptr)
    for (const auto& [pid, bytes] : *frame->frame) pids.push_back(pid);
  std::sort(pids.begin(), pids.end());
  return pids;
}

std::optional<Bytes> frame_value(const FaultMemory& memory, std::uint8_t pid, std::uint8_t number) {
  const auto frames = memory.frames();
  // Without a stored frame there is still number 00, whose code is 0000.
  const FaultMemory::Entry* frame = number < frames.size() ? frames[number] : nullptr;
  if (frame == nullptr && number != 0) return std::nullopt;
  if (is_bitmap(pid)) {
    const Bytes pids = frame_parameters(frame);
    if (!has_bitmap(pids, pid)) return std::nullopt;
    return support_bitmap(pids, pid);
  }
  if (pid == kFrameCode) {
    Bytes bytes;
    append_two(bytes, frame == nullptr ? 0U : frame->plan.code.code);
    return bytes;
  }
  if (frame == nullptr) return std::nullopt;
  for (const auto& [held, bytes] : *frame->frame)
    if (held == pid) return bytes;
  return std::nullopt;
}

ServiceAnswer freeze_frame(Request request, const FaultMemory& memory) {
  const Request asked = request.subspan(1);
  if (asked.empty() || asked.size() % 2 != 0 || asked.size() > 2 * kMostFrameValues)
    return refusal::kIncorrectLength;
  Bytes bytes{positive(request)};
  for (std::size_t i = 0; i < asked.size(); i += 2) {
    if (const auto value = frame_value(memory, asked[i], asked[i + 1])) {
      append(bytes, asked.subspan(i, 2));
      append(bytes, *value);
    }
  }
  if (bytes.size() == 1) return NoAnswer{};
  return bytes;
}

/// ISO 14229-1: bits that the unit does not keep are 0 wherever a status stands.
std::uint8_t status_of(const FaultMemory::Entry& entry, const FaultMemory& memory) {
  return static_cast<std::uint8_t>(entry.status & memory.plan().availability);
}

void append_with_status(Bytes& to, const FaultMemory::Entry& entry, const FaultMemory& memory) {
  append_three(to, entry.plan.code);
  to.push_back(status_of(entry, memory));
}

ServiceAnswer number_by_mask(Request request, const FaultMemory& memory) {
  const auto count = std::count_if(
      memory.entries().begin(), memory.entries().end(),
      [&](const FaultMemory::Entry& entry) { return (status_of(entry, memory) & request[2]) != 0; });
  Bytes bytes{positive(request), kNumberByMask, memory.plan().availability, memory.plan().format};
  append_two(bytes, static_cast<std::size_t>(count));
  return bytes;
}

ServiceAnswer codes_by_mask(Request request, const FaultMemory& memory) {
  Bytes bytes{positive(request), kCodesByMask, memory.plan().availability};
  for (const FaultMemory::Entry& entry : memory.entries())
    if ((status_of(entry, memory) & request[2]) != 0) append_with_status(bytes, entry, memory);
  return bytes;
}

ServiceAnswer supported_codes(Request request, const FaultMemory& memory) {
  Bytes bytes{positive(request), kSupportedCodes, memory.plan().availability};
  for (const FaultMemory::Entry& entry : memory.entries()) append_with_status(bytes, entry, memory);
  return bytes;
}

const std::vector<FaultRecord>& records_of(const FaultMemory::Entry& entry, std::uint8_t kind) {
  return kind == kSnapshotByCode ? entry.plan.snapshots : entry.plan.extended;
}

/// A record number that the unit uses for one of its codes but not for this one is answered without records; one that it never
/// uses is out of range. What an absent code had is gone with it.
ServiceAnswer records_by_code(Request request, std::uint8_t kind, const FaultMemory& memory) {
  const J2012Code code{static_cast<std::uint16_t>(request[2] << kBitsPerByte | request[3]), request[4]};
  const std::uint8_t number = request[5];
  const auto& entries = memory.entries();
  const auto entry = std::find_if(entries.begin(), entries.end(),
                                  [&](const FaultMemory::Entry& one) { return one.plan.code == code; });
  const auto uses = [&](const FaultMemory::Entry& one) {
    const auto& records = records_of(one, kind);
    return std::any_of(records.begin(), records.end(),
                       [number](const FaultRecord& record) { return record.number == number; });
  };
  const bool number_known = number == kAllRecords || std::any_of(entries.begin(), entries.end(), uses);
  if (entry == entries.end() || !number_known) return refusal::kRequestOutOfRange;
  Bytes bytes{positive(request), kind};
  append_with_status(bytes, *entry, memory);
  if (!entry->holds_records) return bytes;
  for (const FaultRecord& record : records_of(*entry, kind)) {
    if (number != kAllRecords && record.number != number) continue;
    bytes.push_back(record.number);
    append(bytes, record.bytes);
  }
  return bytes;
}

ServiceAnswer dtc_information(Request request, const FaultMemory& memory) {
  if (request.size() < kPlainBytes) return refusal::kIncorrectLength;
  const auto kind = static_cast<std::uint8_t>(request[1] & ~kSuppress);
  std::size_t length = 0;
  switch (kind) {  // wire values: any byte may come
    case kNumberByMask:
    case kCodesByMask: length = kMaskBytes; break;
    case kSnapshotByCode:
    case kExtendedByCode: length = kRecordBytes; break;
    case kSupportedCodes: length = kPlainBytes; break;
    default: return refusal::kSubFunctionNotSupported;
  }
  if (request.size() != length) return refusal::kIncorrectLength;
  ServiceAnswer answer = NoAnswer{};
  if (kind == kNumberByMask) answer = number_by_mask(request, memory);
  if (kind == kCodesByMask) answer = codes_by_mask(request, memory);
  if (kind == kSupportedCodes) answer = supported_codes(request, memory);
  if (length == kRecordBytes) answer = records_by_code(request, kind, memory);
  const bool suppressed = (request[1] & kSuppress) != 0 && std::holds_alternative<Bytes>(answer);
  if (suppressed) return NoAnswer{};
  return answer;
}

}  // namespace

bool is_fault_service(std::uint8_t service) {
  constexpr std::array kAll{service::kFreezeFrame,       service::kStoredCodes,    kClearCodes,
                            service::kPendingCodes,      service::kPermanentCodes, kClearInformation,
                            service::kReadDtcInformation};
  return std::find(kAll.begin(), kAll.end(), service) != kAll.end();
}

ServiceAnswer answer_from_memory(const FaultMemory& memory, Request request) {
  assert(!request.empty() && is_fault_service(request.front()));
  const std::uint8_t service = request.front();
  const bool iso14229 = service == service::kReadDtcInformation || service == kClearInformation;
  if (iso14229 ? !memory.plan().tells_iso14229 : !memory.plan().tells_j1979)
    return refusal::kServiceNotSupported;
  switch (service) {  // wire values; the assertion holds the others back
    case service::kFreezeFrame: return freeze_frame(request, memory);
    case service::kReadDtcInformation: return dtc_information(request, memory);
    // Clearing is refused whatever is asked: the simulated vehicle is changed by its scenario alone.
    case kClearCodes:
      if (request.size() != 1) return refusal::kIncorrectLength;
      return refusal::kConditionsNotCorrect;
    case kClearInformation:
      if (request.size() != kClearInformationBytes) return refusal::kIncorrectLength;
      return refusal::kConditionsNotCorrect;
    default: return codes(request, memory);
  }
}

}  // namespace sumplog
