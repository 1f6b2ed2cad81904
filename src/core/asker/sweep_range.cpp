#include "core/asker/sweep_range.h"

#include <charconv>

#include "core/diagnostics/service.h"
#include "core/guard/read_list.h"
#include "core/isotp/addressing.h"
#include "core/item/json_line.h"

namespace sumplog {
namespace {

constexpr std::size_t kStandardDigits = 3;
constexpr std::size_t kExtendedDigits = 8;
constexpr std::size_t kByteDigits = 2;
constexpr std::size_t kIdentifierDigits = 4;
constexpr std::uint32_t kHighestStandard = 0x7FF;
constexpr std::uint32_t kHighestExtended = 0x1FFFFFFF;
constexpr char kPlace[] = "--ask";
constexpr char kWayOut[] = "for example 7E1:1A00-1AFF, or 7E1:00-FF for local identifiers";

std::optional<std::uint32_t> hex_number(std::string_view text, std::size_t digits) {
  std::uint32_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, 16);
  if (text.size() != digits || error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

/// "7E1", "18DA18F1", "6F1/12".
bool read_unit(std::string_view text, SweepRange& range) {
  const std::size_t slash = text.find('/');
  if (slash != std::string_view::npos) {
    const auto address = hex_number(text.substr(slash + 1), kByteDigits);
    if (!address) return false;
    range.address = static_cast<std::uint8_t>(*address);
    text = text.substr(0, slash);
  }
  range.request.extended = text.size() == kExtendedDigits;
  const auto id = hex_number(text, range.request.extended ? kExtendedDigits : kStandardDigits);
  if (!id || *id > (range.request.extended ? kHighestExtended : kHighestStandard)) return false;
  range.request.value = *id;
  return true;
}

/// One unit alone: what is asked of all is not swept.
bool asks_one_unit(CanId id) {
  switch (sending_identifier(id)) {
    case SendingIdentifier::physical:
    case SendingIdentifier::mixed: return true;
    case SendingIdentifier::functional:
    case SendingIdentifier::group_request:
    case SendingIdentifier::group_transport:
    case SendingIdentifier::address_claim: return false;
    case SendingIdentifier::none: break;
  }
  return may_be_named(id);
}

std::string identifier_text(std::uint8_t service, std::uint16_t id) {
  const std::uint8_t bytes[] = {static_cast<std::uint8_t>(id >> 8), static_cast<std::uint8_t>(id)};
  return service == service::kReadDataByIdentifier ? hex_text(bytes, 2) : hex_text(bytes + 1, 1);
}

}  // namespace

Result<SweepRange> parse_sweep_range(std::string_view text) {
  const auto refused = [&](const std::string& why) {
    return fault("'" + std::string(text) + "' " + why, kPlace, kWayOut);
  };
  SweepRange range;
  const std::size_t colon = text.find(':');
  if (colon == std::string_view::npos || !read_unit(text.substr(0, colon), range))
    return refused("does not name a unit and its identifiers");
  if (!asks_one_unit(range.request))
    return refused("names " + ecu_text(range.request, range.address) + ", on which no single unit is asked");
  const std::string_view list = text.substr(colon + 1);
  const std::size_t dash = list.find('-');
  const std::string_view first = list.substr(0, dash);
  const std::string_view last = dash == std::string_view::npos ? first : list.substr(dash + 1);
  const bool local = first.size() == kByteDigits;
  const std::size_t digits = local ? kByteDigits : kIdentifierDigits;
  const auto low = hex_number(first, digits);
  const auto high = hex_number(last, digits);
  if (!low || !high) return refused("does not name a unit and its identifiers");
  if (*high < *low) return refused("ends before it begins");
  range.service = local ? service::kReadDataByLocalIdentifier : service::kReadDataByIdentifier;
  range.first = static_cast<std::uint16_t>(*low);
  range.last = static_cast<std::uint16_t>(*high);
  return range;
}

std::string text_of(const SweepRange& range) {
  return ecu_text(range.request, range.address) + ":" + identifier_text(range.service, range.first) + "-" +
         identifier_text(range.service, range.last);
}

std::string text_of(const std::vector<SweepRange>& ranges) {
  std::string text;
  for (const SweepRange& range : ranges) text += (text.empty() ? "" : ", ") + text_of(range);
  return text;
}

}  // namespace sumplog
