#pragma once
#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

/// Who sent a transport message. Transport, units and readings are keyed by this: nothing of two units or two
/// buses ever mixes.
struct Endpoint {
  BusName bus{};
  CanId id{};
  std::optional<std::uint8_t> address;  ///< address byte of extended or mixed addressing (ISO 15765-2)
  friend auto operator<=>(const Endpoint&, const Endpoint&) = default;
};

/// One whole message of ISO 15765-2, or of SAE J1939-21 (then `group` is set).
struct Message {
  TimePoint at{};        ///< time of its last frame
  TimePoint first_at{};  ///< time of its first frame
  Endpoint from{};
  std::optional<std::uint32_t>
      group;  ///< J1939 PGN, for a message of J1939 transport or a single J1939 frame
  std::vector<std::uint8_t> payload;
};

/// What the transport had to drop. Each becomes one `loss` line; none is silent.
struct TransportLoss {
  TimePoint at{};
  Endpoint from{};
  std::string
      why;  ///< words of docs/journal.md: "consecutive frame out of order", "transfer timed out (N_Cr)"…
  std::uint64_t frames = 0;  ///< frames that are lost with it
};

}  // namespace sumplog

template <>
struct std::hash<sumplog::Endpoint> {
  std::size_t operator()(const sumplog::Endpoint& e) const noexcept {
    return std::hash<sumplog::CanId>{}(e.id) * 31 + std::hash<sumplog::BusName>{}(e.bus) * 7 +
           (e.address ? 257U + *e.address : 0U);
  }
};
