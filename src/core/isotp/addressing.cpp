#include "core/isotp/addressing.h"

#include <algorithm>
#include <array>
#include <utility>

namespace sumplog {
namespace {

constexpr std::uint32_t kFunctionalId = 0x7DF;     // ISO 15765-4, 11-bit functional request
constexpr std::uint32_t kFirstRequestId = 0x7E0;   // ISO 15765-4, 11-bit physical request to unit 1
constexpr std::uint32_t kLastRequestId = 0x7E7;    // ISO 15765-4, 11-bit physical request to unit 8
constexpr std::uint32_t kFirstResponseId = 0x7E8;  // ISO 15765-4, 11-bit response of unit 1
constexpr std::uint32_t kLastResponseId = 0x7EF;   // ISO 15765-4, 11-bit response of unit 8
constexpr std::uint32_t kResponseOffset = kFirstResponseId - kFirstRequestId;

// 29-bit identifiers: 18 format target source, format being one of these.
constexpr std::uint32_t kFormatMask = 0x1FFF0000;
constexpr std::uint32_t kNormalPhysical = 0x18DA0000;    // ISO 15765-2, normal fixed, physical
constexpr std::uint32_t kNormalFunctional = 0x18DB0000;  // ISO 15765-2, normal fixed, functional
constexpr std::uint32_t kMixedFunctional = 0x18CD0000;   // ISO 15765-2, mixed 29 bit, functional
constexpr std::uint32_t kMixedPhysical = 0x18CE0000;     // ISO 15765-2, mixed 29 bit, physical
constexpr unsigned kTargetShift = 8;
constexpr std::uint32_t kAddressMask = 0xFF;
constexpr std::uint32_t kTester = 0xF1;  // ISO 15765-4, external test equipment

constexpr std::uint32_t target_of(CanId id) {
  return id.value >> kTargetShift & kAddressMask;
}
constexpr std::uint32_t source_of(CanId id) {
  return id.value & kAddressMask;
}

/// The same format between the same two, in the other direction.
constexpr CanId reversed(CanId id) {
  return extended_id((id.value & kFormatMask) | source_of(id) << kTargetShift | target_of(id));
}

std::optional<Addressing> classify_standard(std::uint32_t value) {
  if (value == kFunctionalId) return Addressing{Role::functional_request, AddressingMode::normal};
  if (value >= kFirstRequestId && value <= kLastRequestId) {
    return Addressing{Role::physical_request, AddressingMode::normal};
  }
  if (value >= kFirstResponseId && value <= kLastResponseId)
    return Addressing{Role::response, AddressingMode::normal};
  return std::nullopt;
}

std::optional<Addressing> classify_extended(CanId id) {
  const std::uint32_t format = id.value & kFormatMask;
  const bool from_tester = source_of(id) == kTester;
  const bool to_tester = target_of(id) == kTester;
  if (format == kNormalFunctional || format == kMixedFunctional) {
    if (!from_tester) return std::nullopt;
    return Addressing{Role::functional_request,
                      format == kMixedFunctional ? AddressingMode::mixed : AddressingMode::normal};
  }
  if (format == kNormalPhysical || format == kMixedPhysical) {
    if (from_tester == to_tester) return std::nullopt;
    return Addressing{from_tester ? Role::physical_request : Role::response,
                      format == kMixedPhysical ? AddressingMode::mixed : AddressingMode::normal};
  }
  return std::nullopt;
}

/// A pair that leaves the byte open means every byte.
bool address_fits(const std::optional<std::uint8_t>& named, const std::optional<std::uint8_t>& seen) {
  return !named || named == seen;
}

}  // namespace

AddressBook::AddressBook(std::vector<UnitAddress> named) : named_(std::move(named)) {}

std::optional<Addressing> AddressBook::classify(CanId id) const {
  for (const UnitAddress& unit : named_) {
    if (unit.request == id) return Addressing{Role::physical_request, unit.mode};
    if (unit.response == id) return Addressing{Role::response, unit.mode};
  }
  return id.extended ? classify_extended(id) : classify_standard(id.value);
}

std::optional<Endpoint> AddressBook::request_to(const Endpoint& unit) const {
  bool named = false;
  for (const UnitAddress& one : named_) {
    if (one.response != unit.id) continue;
    named = true;
    if (address_fits(one.response_address, unit.address))
      return Endpoint{unit.bus, one.request, one.request_address};
  }
  const auto addressing = classify(unit.id);
  if (named || !addressing || addressing->role != Role::response) return std::nullopt;
  const CanId id = unit.id.extended ? reversed(unit.id) : standard_id(unit.id.value - kResponseOffset);
  return Endpoint{unit.bus, id, unit.address};
}

std::optional<Endpoint> AddressBook::response_of(const Endpoint& request) const {
  bool named = false;
  for (const UnitAddress& one : named_) {
    if (one.request != request.id) continue;
    named = true;
    if (address_fits(one.request_address, request.address)) {
      return Endpoint{request.bus, one.response, one.response_address};
    }
  }
  const auto addressing = classify(request.id);
  if (named || !addressing || addressing->role != Role::physical_request) return std::nullopt;
  const CanId id =
      request.id.extended ? reversed(request.id) : standard_id(request.id.value + kResponseOffset);
  return Endpoint{request.bus, id, request.address};
}

bool AddressBook::may_answer(const Endpoint& request, const Endpoint& response) const {
  if (request.bus != response.bus) return false;
  const auto asked = classify(request.id);
  const auto answered = classify(response.id);
  if (!asked || !answered || answered->role != Role::response) return false;
  switch (asked->role) {
    case Role::functional_request: return request.id.extended == response.id.extended;
    case Role::physical_request: {
      const auto expected = response_of(request);
      return expected && expected->id == response.id && address_fits(expected->address, response.address);
    }
    case Role::response: return false;
  }
  return false;
}

std::string ecu_text(CanId id, std::optional<std::uint8_t> address) {
  static constexpr std::string_view kDigits = "0123456789ABCDEF";
  constexpr int kStandardDigits = 3;
  constexpr int kExtendedDigits = 8;
  constexpr int kByteDigits = 2;
  constexpr std::uint32_t kDigitMask = 0xF;
  constexpr int kDigitBits = 4;
  std::string text;
  const auto append = [&text](std::uint32_t value, int digits) {
    for (int digit = digits - 1; digit >= 0; --digit)
      text += kDigits[value >> (digit * kDigitBits) & kDigitMask];
  };
  append(id.value, id.extended ? kExtendedDigits : kStandardDigits);
  if (address) {
    text += '/';
    append(*address, kByteDigits);
  }
  return text;
}

}  // namespace sumplog
