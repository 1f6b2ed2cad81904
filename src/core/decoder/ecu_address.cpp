#include "core/decoder/ecu_address.h"

namespace sumplog {
namespace {

// ISO 15765-4, 11-bit identifiers.
constexpr std::uint32_t kFunctional = 0x7DF;
constexpr std::uint32_t kFirstRequest = 0x7E0;
constexpr std::uint32_t kLastRequest = 0x7E7;
constexpr std::uint32_t kLastResponse = 0x7EF;
constexpr std::uint32_t kResponseOffset = 8;
// The guard lets a decoder name identifiers in this range only.
constexpr std::uint32_t kFirstNamed = 0x600;
constexpr std::uint32_t kLastNamed = 0x7FF;
// ISO 15765-4 and ISO 15765-2, 29-bit identifiers: 18 PF PS SA, the tester being F1.
constexpr std::uint32_t kPhysical = 0x18DA0000;
constexpr std::uint32_t kFunctional29 = 0x18DB0000;
constexpr std::uint32_t kMixedPhysical = 0x18CE0000;
constexpr std::uint32_t kMixedFunctional = 0x18CD0000;
constexpr std::uint32_t kFormatMask = 0x1FFF0000;
constexpr std::uint32_t kByteMask = 0xFF;
constexpr std::uint32_t kTester = 0xF1;

bool in_iso_range(CanId id) {
  return id.value == kFunctional || (id.value >= kFirstRequest && id.value <= kLastResponse);
}
bool may_be_named(CanId id) {
  return !id.extended && id.value >= kFirstNamed && id.value <= kLastNamed && !in_iso_range(id);
}

std::string must_answer_on(const UnitAddress& address, CanId response) {
  if (address.response == response) return {};
  return ecu_text(address.request) + " is answered on " + ecu_text(response) + ", not on " +
         ecu_text(address.response);
}

std::string bytes_mistake(const UnitAddress& address) {
  const bool some = address.request_address || address.response_address;
  const bool both = address.request_address && address.response_address;
  if (address.mode == AddressingMode::normal) {
    return some ? "normal addressing has no 'request_address' and no 'response_address'" : "";
  }
  return both ? "" : "this addressing needs 'request_address' and 'response_address'";
}

std::string mode_mistake(const UnitAddress& address, AddressingMode wanted, std::string_view name) {
  if (address.mode == wanted) return bytes_mistake(address);
  return ecu_text(address.request) + " uses " + std::string{name} + " addressing";
}

std::string mistake_29_bit(const UnitAddress& address) {
  const std::uint32_t format = address.request.value & kFormatMask;
  const std::uint32_t unit = address.request.value >> 8U & kByteMask;
  const std::uint32_t sender = address.request.value & kByteMask;
  if ((format != kPhysical && format != kMixedPhysical) || sender != kTester || unit == kTester) {
    return ecu_text(address.request) + " is not an identifier that may be asked";
  }
  std::string mistake = must_answer_on(address, extended_id(format | kTester << 8U | unit));
  if (!mistake.empty()) return mistake;
  return format == kPhysical ? mode_mistake(address, AddressingMode::normal, "normal")
                             : mode_mistake(address, AddressingMode::mixed, "mixed");
}

}  // namespace

bool is_diagnostic_by_standard(CanId id) {
  if (!id.extended) return in_iso_range(id);
  const std::uint32_t format = id.value & kFormatMask;
  return format == kPhysical || format == kFunctional29 || format == kMixedPhysical ||
         format == kMixedFunctional;
}

std::string address_mistake(const UnitAddress& address) {
  const CanId request = address.request;
  if (request.extended) return mistake_29_bit(address);
  if (request.value >= kFirstRequest && request.value <= kLastRequest) {
    std::string mistake = must_answer_on(address, standard_id(request.value + kResponseOffset));
    if (!mistake.empty()) return mistake;
    return mode_mistake(address, AddressingMode::normal, "normal");
  }
  if (!may_be_named(request)) return ecu_text(request) + " is not an identifier that may be asked";
  if (!may_be_named(address.response) || address.response == request) {
    return ecu_text(address.response) + " cannot be the answer to " + ecu_text(request);
  }
  if (address.mode == AddressingMode::mixed) return ecu_text(request) + " cannot use mixed addressing";
  return bytes_mistake(address);
}

}  // namespace sumplog
