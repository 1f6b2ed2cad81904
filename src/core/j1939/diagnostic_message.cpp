#include "core/j1939/diagnostic_message.h"

#include <algorithm>

namespace sumplog {
namespace {

// offset | size | name                                                   SAE J1939-73, DM1
// 0      | 1    | lamps: bits 7…6 malfunction, 5…4 red stop, 3…2 amber warning, 1…0 protect
// 1      | 1    | how they flash, the same order
// 2 + 4n | 1    | SPN, low byte
// 3 + 4n | 1    | SPN, middle byte
// 4 + 4n | 1    | bits 7…5 SPN, high bits; 4…0 FMI
// 5 + 4n | 1    | bit 7 conversion method; 6…0 occurrence count, 7F: not available
constexpr std::size_t kLampBytes = 2;
constexpr std::size_t kCodeBytes = 4;
constexpr std::size_t kSingleFrame = 8;
constexpr std::uint8_t kFill = 0xFF;
constexpr unsigned kLampMask = 3;
constexpr unsigned kHighSpnMask = 0xE0;
constexpr unsigned kHighSpnShift = 11;
constexpr unsigned kFmiMask = 0x1F;
constexpr unsigned kMethodBit = 0x80;
constexpr unsigned kCountMask = 0x7F;
constexpr std::uint8_t kCountUnknown = 0x7F;
constexpr std::uint32_t kHighestSpn = 0x7FFFF;

Lamp lamp_at(std::span<const std::uint8_t> payload, unsigned shift) {
  return {static_cast<LampState>(payload[0] >> shift & kLampMask),
          static_cast<LampFlash>(payload[1] >> shift & kLampMask)};
}

bool all(std::span<const std::uint8_t> bytes, std::uint8_t value) {
  return std::all_of(bytes.begin(), bytes.end(), [value](std::uint8_t one) { return one == value; });
}

}  // namespace

std::string_view text_of(DiagnosticMessageError error) {
  switch (error) {
    case DiagnosticMessageError::wrong_length: return "wrong length";
    case DiagnosticMessageError::remainder: return "bytes behind the last code";
  }
  return "";
}

SpnCode spn_code(std::span<const std::uint8_t, kCodeBytes> bytes) {
  SpnCode code;
  std::copy(bytes.begin(), bytes.end(), code.raw.begin());
  code.spn =
      bytes[0] | static_cast<std::uint32_t>(bytes[1]) << 8 | (bytes[2] & kHighSpnMask) << kHighSpnShift;
  code.fmi = static_cast<std::uint8_t>(bytes[2] & kFmiMask);
  const auto count = static_cast<std::uint8_t>(bytes[3] & kCountMask);
  if (count != kCountUnknown) code.occurred = count;
  code.conversion_method = (bytes[3] & kMethodBit) != 0;
  return code;
}

std::string spn_text(const SpnCode& code) {
  return "SPN " + std::to_string(code.spn) + " FMI " + std::to_string(code.fmi);
}

Result<DiagnosticMessage, DiagnosticMessageError> read_diagnostic_message(
    std::span<const std::uint8_t> payload) {
  if (payload.size() < kLampBytes + kCodeBytes) return tl::unexpected(DiagnosticMessageError::wrong_length);
  const std::size_t over = (payload.size() - kLampBytes) % kCodeBytes;
  if (over != 0 && payload.size() != kSingleFrame)
    return tl::unexpected(DiagnosticMessageError::wrong_length);
  if (!all(payload.last(over), kFill) && !all(payload.last(over), 0))
    return tl::unexpected(DiagnosticMessageError::remainder);

  DiagnosticMessage message;
  message.lamps = {lamp_at(payload, 6), lamp_at(payload, 4), lamp_at(payload, 2), lamp_at(payload, 0)};
  for (auto rest = payload.subspan(kLampBytes); rest.size() >= kCodeBytes; rest = rest.subspan(kCodeBytes)) {
    const auto bytes = rest.first<kCodeBytes>();
    if (all(bytes, 0) || all(bytes, kFill)) continue;
    const SpnCode code = spn_code(bytes);
    if (code.spn == 0 || code.spn == kHighestSpn)
      ++message.without_number;
    else
      message.codes.push_back(code);
  }
  return message;
}

}  // namespace sumplog
