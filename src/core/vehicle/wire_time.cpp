#include "core/vehicle/wire_time.h"

#include <algorithm>
#include <array>

namespace sumplog {
namespace {

// ISO 11898-1. Classic: start 1, identifier 11, RTR, IDE, r0, DLC 4, CRC 15, CRC delimiter, ACK 2, end 7,
// then 3 of inter-frame space; a 29-bit identifier adds SRR, r1 and 18 bits.
constexpr std::int64_t kClassicBits = 47;
constexpr std::int64_t kExtensionBits = 20;
// FD, at the nominal rate: start 1, identifier 11, RRS, IDE, FDF, res, BRS; CRC delimiter, ACK 2, end 7, and
// 3 of inter-frame space.
constexpr std::int64_t kFdNominalBits = 17 + 13;
constexpr std::int64_t kFdExtensionBits = 19;  // SRR and 18 bits
// FD, at the data rate: ESI, DLC 4, stuff count 4, CRC 17 or 21 with its fixed stuff bits.
constexpr std::int64_t kFdDataBits = 9;
constexpr std::int64_t kShortCrcBits = 17 + 6;
constexpr std::int64_t kLongCrcBits = 21 + 7;
constexpr std::uint8_t kShortCrcLength = 16;  // bytes
constexpr std::int64_t kMicrosecondsPerSecond = 1'000'000;

constexpr unsigned kBaseShift = 18;  // bits of the identifier extension
constexpr std::uint32_t kExtensionMask = 0x3FFFF;

std::array<std::uint32_t, 4> arbitration_field(const CanFrame& frame) {
  const std::uint32_t base = frame.id.extended ? frame.id.value >> kBaseShift : frame.id.value;
  const std::uint32_t extension = frame.id.extended ? frame.id.value & kExtensionMask : 0;
  return {base, frame.id.extended ? 1U : 0U, extension, frame.kind == FrameKind::remote ? 1U : 0U};
}

}  // namespace

Duration wire_time(const CanFrame& frame, const BitRates& rates) {
  const std::int64_t payload_bits = frame.kind == FrameKind::remote ? 0 : std::int64_t{8} * frame.length;
  const auto microseconds = [](std::int64_t bits, std::uint32_t rate) {
    return bits * kMicrosecondsPerSecond / std::int64_t{rate};
  };
  std::int64_t us = 0;
  if (frame.fd) {
    const std::int64_t crc = frame.length <= kShortCrcLength ? kShortCrcBits : kLongCrcBits;
    const std::uint32_t data_rate = frame.bit_rate_switch ? rates.data : rates.nominal;
    us = microseconds(kFdNominalBits + (frame.id.extended ? kFdExtensionBits : 0), rates.nominal) +
         microseconds(kFdDataBits + payload_bits + crc, data_rate);
  } else {
    us = microseconds(kClassicBits + (frame.id.extended ? kExtensionBits : 0) + payload_bits, rates.nominal);
  }
  return Duration{std::max<std::int64_t>(us, 1)};
}

bool wins_arbitration(const CanFrame& a, const CanFrame& b) {
  return arbitration_field(a) < arbitration_field(b);
}

}  // namespace sumplog
