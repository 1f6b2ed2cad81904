#include "core/codes/code_answer.h"

#include <array>

#include "core/codes/fault_code.h"
#include "core/diagnostics/pid_length.h"
#include "core/diagnostics/service.h"
#include "core/item/json_line.h"
#include "core/j1939/diagnostic_message.h"

namespace sumplog {
namespace {

using Bytes = std::span<const std::uint8_t>;
using Answer = Result<CodeAnswer, std::string>;

constexpr std::uint8_t kMonitorStatus = 0x01;  // SAE J1979, PID
constexpr std::uint8_t kFrozenBy = 0x02;       // SAE J1979, PID of service 02
constexpr std::size_t kShortCode = 2;          // SAE J1979
constexpr std::size_t kLongCode = 3;           // ISO 14229-1
constexpr std::size_t kMonitorBytes = 4;

// ISO 14229-1, sub-functions of ReadDTCInformation
constexpr std::uint8_t kCountByMask = 0x01;
constexpr std::uint8_t kListByMask = 0x02;
constexpr std::uint8_t kSnapshot = 0x04;
constexpr std::uint8_t kExtendedData = 0x06;
constexpr std::uint8_t kSupported = 0x0A;

std::uint16_t word(Bytes bytes) {
  return static_cast<std::uint16_t>(bytes[0] << 8U | bytes[1]);
}

ListedCode short_code(Bytes bytes) {
  return {text_of(J2012Code{word(bytes), std::nullopt}), hex_text(bytes.data(), kShortCode), std::nullopt};
}

/// SPN and FMI in three bytes: the first three of a code of SAE J1939-73.
std::string three_byte_spn_text(Bytes bytes) {
  return spn_text(spn_code(std::array<std::uint8_t, 4>{bytes[0], bytes[1], bytes[2], 0}));
}

ListedCode long_code(Bytes bytes, std::optional<std::uint8_t> status, CodeFormat format) {
  std::string text;
  switch (format) {
    case CodeFormat::j2012: text = text_of(J2012Code{word(bytes), bytes[2]}); break;
    case CodeFormat::j1939_73: text = three_byte_spn_text(bytes); break;
  }
  return {std::move(text), hex_text(bytes.data(), kLongCode), status};
}

Answer wrong_length() {
  return tl::unexpected<std::string>("answer about fault codes has a length that it cannot have");
}

Answer read_list(Bytes response) {
  if (response.size() < 2 || response.size() != 2 + kShortCode * response[1]) return wrong_length();
  CodeList list;
  for (Bytes rest = response.subspan(2); !rest.empty(); rest = rest.subspan(kShortCode))
    list.codes.push_back(short_code(rest));
  return list;
}

Answer read_frozen(Bytes asked, Bytes response) {
  constexpr std::size_t kHead = 3;  // 42, PID, frame
  if (asked.size() < kHead || response.size() < kHead) return wrong_length();
  const std::uint8_t frame = response[2];
  if (response[1] == kFrozenBy) {
    if (response.size() != kHead + kShortCode) return wrong_length();
    FrozenCode frozen{frame, std::nullopt};
    if (word(response.subspan(kHead)) != 0) frozen.code = short_code(response.subspan(kHead));
    return frozen;
  }
  FrozenValues frozen{frame, {}};
  for (Bytes rest = response.subspan(1); !rest.empty();) {
    const auto length = pid_length(rest[0]);
    if (!length || rest.size() < 2 + *length || rest[1] != frame) return wrong_length();
    const Bytes data = rest.subspan(2, *length);
    frozen.values.emplace_back(rest[0], std::vector<std::uint8_t>(data.begin(), data.end()));
    rest = rest.subspan(2 + *length);
  }
  return frozen;
}

Answer read_long_list(Bytes response, CodeFormat format) {
  constexpr std::size_t kHead = 3;  // 59, sub-function, mask of the bits that the unit has
  constexpr std::size_t kRecord = kLongCode + 1;
  if (response.size() < kHead || (response.size() - kHead) % kRecord != 0) return wrong_length();
  CodeList list;
  for (Bytes rest = response.subspan(kHead); !rest.empty(); rest = rest.subspan(kRecord))
    list.codes.push_back(long_code(rest, rest[kLongCode], format));
  return list;
}

Answer read_count(Bytes response) {
  constexpr std::size_t kWhole = 6;  // 59 01, mask, format, count
  if (response.size() != kWhole) return wrong_length();
  return CodeCount{response[3], word(response.subspan(4))};
}

Answer read_records(Bytes response, CodeFormat format) {
  constexpr std::size_t kHead = 2 + kLongCode + 1;  // 59, sub-function, code, status
  if (response.size() < kHead) return wrong_length();
  const Bytes code = response.subspan(2);
  const Bytes rest = response.subspan(kHead);
  return CodeRecords{long_code(code, code[kLongCode], format), {rest.begin(), rest.end()}};
}

// SAE J1979, PID 01, from memory: bytes B, C and D. Lowest bit first; an empty name is a bit without a meaning.
constexpr std::array<std::string_view, 3> kContinuous{"misfire", "fuel system", "components"};
constexpr std::array<std::string_view, 8> kSparkIgnition{"catalyst",
                                                         "heated catalyst",
                                                         "evaporative system",
                                                         "secondary air system",
                                                         "gasoline particulate filter",
                                                         "oxygen sensor",
                                                         "oxygen sensor heater",
                                                         "exhaust gas recirculation"};
constexpr std::array<std::string_view, 8> kCompressionIgnition{
    "NMHC catalyst",      "NOx aftertreatment",       "", "boost pressure", "", "exhaust gas sensor",
    "particulate filter", "exhaust gas recirculation"};

template <std::size_t N>
void add_monitors(MonitorStatus& status, const std::array<std::string_view, N>& names, unsigned has,
                  unsigned incomplete) {
  for (std::size_t bit = 0; bit < N; ++bit)
    if ((has >> bit & 1U) != 0 && !names[bit].empty())
      status.monitors.push_back({std::string(names[bit]), (incomplete >> bit & 1U) == 0});
}

Answer read_monitors(Bytes response) {
  constexpr std::size_t kHead = 2;  // 41 01
  constexpr unsigned kLamp = 0x80;
  constexpr unsigned kCompression = 0x08;
  if (response.size() != kHead + kMonitorBytes) return wrong_length();
  const Bytes data = response.subspan(kHead);
  MonitorStatus status;
  status.warning_lamp = (data[0] & kLamp) != 0;
  status.stored = static_cast<int>(data[0] & ~kLamp);
  add_monitors(status, kContinuous, data[1], data[1] >> 4U);
  add_monitors(status, (data[1] & kCompression) != 0 ? kCompressionIgnition : kSparkIgnition, data[2],
               data[3]);
  return status;
}

}  // namespace

CodeFormat code_format(std::uint8_t identifier) {
  return identifier == static_cast<std::uint8_t>(CodeFormat::j1939_73) ? CodeFormat::j1939_73
                                                                       : CodeFormat::j2012;
}

bool asks_for_codes(Bytes asked) {
  if (asked.empty()) return false;
  switch (asked[0]) {  // wire values
    case service::kFreezeFrame:
    case service::kStoredCodes:
    case service::kPendingCodes:
    case service::kPermanentCodes: return true;
    case service::kCurrentData: return asked.size() == 2 && asked[1] == kMonitorStatus;
    case service::kReadDtcInformation:
      if (asked.size() > 1 && asked[1] == kListByMask) return asked.size() > 2;  // without a mask: of what?
      return asked.size() > 1 && (asked[1] == kCountByMask || asked[1] == kSnapshot ||
                                  asked[1] == kExtendedData || asked[1] == kSupported);
    default: return false;
  }
}

Answer read_code_answer(Bytes asked, Bytes response, CodeFormat format) {
  switch (asked[0]) {  // wire values; asks_for_codes holds
    case service::kFreezeFrame: return read_frozen(asked, response);
    case service::kCurrentData: return read_monitors(response);
    case service::kReadDtcInformation: break;
    default: return read_list(response);
  }
  if (response.size() < 2 || response[1] != asked[1])
    return tl::unexpected<std::string>("answer to another sub-function of service 19");
  switch (asked[1]) {  // wire values
    case kCountByMask: return read_count(response);
    case kSnapshot:
    case kExtendedData: return read_records(response, format);
    default: return read_long_list(response, format);
  }
}

}  // namespace sumplog
