#include "core/redact/identifying_bytes.h"

#include <algorithm>
#include <array>
#include <optional>

#include "core/j1939/identifier.h"

namespace sumplog {
namespace {

using Bytes = std::span<const std::uint8_t>;

constexpr std::uint8_t kInformationAnswer = 0x49;  // SAE J1979, service 09
constexpr std::uint8_t kInfoVin = 0x02;
constexpr std::uint8_t kInfoEngineSerial = 0x0D;
constexpr std::uint8_t kReadAnswer = 0x62;  // ISO 14229-1, ReadDataByIdentifier
constexpr std::uint8_t kRead = 0x22;
constexpr std::uint8_t kWrite = 0x2E;          // ISO 14229-1, WriteDataByIdentifier: of another tester
constexpr std::uint8_t kOldReadAnswer = 0x5A;  // ISO 14230-3, readEcuIdentification
constexpr std::uint8_t kOldVin = 0x90;

constexpr std::uint16_t kVinIdentifier = 0xF190;
constexpr std::array<std::uint16_t, 6> kSerialIdentifiers{0xF18C, 0xF198, 0xF19A, 0xF183, 0xF184, 0xF185};

constexpr std::uint32_t kGroupVin = 65260;
constexpr std::uint32_t kGroupComponent = 65259;
constexpr std::uint32_t kGroupEcu = 64965;
constexpr std::size_t kComponentSerialField = 2;  // make * model * serial * unit
constexpr std::size_t kEcuSerialField = 1;        // part * serial * location * type
constexpr std::size_t kIdentityBytes = 3;         // 21 bits, low bytes first

constexpr std::size_t kIdentifierBytes = 2;

std::uint16_t word_at(Bytes bytes, std::size_t at) {
  return static_cast<std::uint16_t>(bytes[at] << 8 | bytes[at + 1]);
}

std::optional<IdentifyingKind> kind_of(std::uint16_t identifier) {
  if (identifier == kVinIdentifier) return IdentifyingKind::vin;
  const auto* const found = std::find(kSerialIdentifiers.begin(), kSerialIdentifiers.end(), identifier);
  return found == kSerialIdentifiers.end() ? std::nullopt : std::optional(IdentifyingKind::serial);
}

/// Where an identifier stands at or after `from`; the end when it does not.
std::size_t place_of(Bytes payload, std::uint16_t identifier, std::size_t from) {
  for (std::size_t at = from; at + kIdentifierBytes <= payload.size(); ++at)
    if (word_at(payload, at) == identifier) return at;
  return payload.size();
}

/// Service, identifier, data, identifier, data, …: the lengths are known to nobody, so data reaches to the next identifier
/// that was asked for.
std::vector<IdentifyingRange> ranges_by_identifier(Bytes payload, std::span<const std::uint16_t> asked) {
  std::vector<IdentifyingRange> ranges;
  std::vector<std::uint16_t> order{word_at(payload, 1)};
  if (const auto first = std::find(asked.begin(), asked.end(), order.front()); first != asked.end())
    order.assign(first, asked.end());
  std::size_t at = 1;
  for (std::size_t i = 0; i < order.size(); ++i) {
    const std::size_t data = at + kIdentifierBytes;
    std::size_t next = payload.size();
    for (std::size_t later = i + 1; later < order.size() && next == payload.size(); ++later)
      next = place_of(payload, order[later], data);
    if (const auto kind = kind_of(order[i]); kind && next > data)
      ranges.push_back({data, next - data, *kind});
    // An identifier that the unit left out is passed over.
    while (i + 1 < order.size() && (next == payload.size() || word_at(payload, next) != order[i + 1])) {
      if (next == payload.size()) return ranges;
      ++i;
    }
    at = next;
  }
  return ranges;
}

/// A field of text that asterisks end.
IdentifyingRange field_range(Bytes payload, std::size_t field) {
  std::size_t begin = 0;
  for (std::size_t at = 0; at < payload.size() && field > 0; ++at) {
    if (payload[at] != '*') continue;
    begin = at + 1;
    --field;
  }
  if (field > 0) return {};
  const auto end = std::find(payload.begin() + static_cast<std::ptrdiff_t>(begin), payload.end(), '*');
  return {begin, static_cast<std::size_t>(end - payload.begin()) - begin, IdentifyingKind::serial};
}

}  // namespace

std::vector<std::uint16_t> asked_identifiers(std::span<const std::uint8_t> request) {
  std::vector<std::uint16_t> asked;
  if (request.empty() || request[0] != kRead) return asked;
  for (std::size_t at = 1; at + kIdentifierBytes <= request.size(); at += kIdentifierBytes)
    asked.push_back(word_at(request, at));
  return asked;
}

std::vector<IdentifyingRange> identifying_ranges(std::span<const std::uint8_t> payload,
                                                 std::span<const std::uint16_t> asked) {
  if (payload.size() < kIdentifierBytes) return {};
  const auto rest = [&](std::size_t from, IdentifyingKind kind) -> std::vector<IdentifyingRange> {
    if (from >= payload.size()) return {};
    return {{from, payload.size() - from, kind}};
  };
  if (payload[0] == kInformationAnswer && payload[1] == kInfoVin) return rest(2, IdentifyingKind::vin);
  if (payload[0] == kInformationAnswer && payload[1] == kInfoEngineSerial)
    return rest(2, IdentifyingKind::serial);
  if (payload[0] == kOldReadAnswer && payload[1] == kOldVin) return rest(2, IdentifyingKind::vin);
  if (payload.size() < 1 + kIdentifierBytes) return {};
  if (payload[0] == kWrite) {
    const auto kind = kind_of(word_at(payload, 1));
    return kind ? rest(1 + kIdentifierBytes, *kind) : std::vector<IdentifyingRange>{};
  }
  if (payload[0] == kReadAnswer) return ranges_by_identifier(payload, asked);
  return {};
}

std::vector<IdentifyingRange> identifying_ranges_of_group(std::uint32_t group,
                                                          std::span<const std::uint8_t> payload) {
  IdentifyingRange range;
  switch (group) {
    case kGroupVin:
      range = field_range(payload, 0);
      range.kind = IdentifyingKind::vin;
      break;
    case kGroupComponent: range = field_range(payload, kComponentSerialField); break;
    case kGroupEcu: range = field_range(payload, kEcuSerialField); break;
    case kAddressClaimed:
      range = {0, std::min(payload.size(), kIdentityBytes), IdentifyingKind::number};
      break;
    default: break;
  }
  if (range.length == 0) return {};
  return {range};
}

}  // namespace sumplog
