#pragma once
#include <chrono>
#include <cstdint>
#include <optional>
#include <vector>

#include "core/isotp/message.h"
#include "core/item/time.h"

namespace sumplog {

/// How long the tester waits for the first frame of an answer: the unit has P2 = 50 ms, the way there and
/// back the rest.
inline constexpr Duration kP2Client =
    std::chrono::milliseconds{100};  // ISO 14229-2 P2; client value as in the `uds` package
/// How long a request is open to an answer, whoever asked: behind slow gateways, and on a busy computer, answers come late and
/// are answers all the same.
inline constexpr Duration kAnswerTime = std::chrono::seconds{1};  // own choice, twenty times P2
/// How long the tester waits after a negative response 0x78 (response pending): P2* = 5000 ms.
inline constexpr Duration kP2StarClient = std::chrono::milliseconds{5050};  // ISO 14229-2 P2*; same source

enum class ExchangeResult : std::uint8_t {
  answered,  ///< positive response
  refused,   ///< negative response other than 0x78
  silent,    ///< nothing came within P2 (or P2* after a 0x78)
};

/// A request and what one unit made of it. A functional request gives one Exchange for each unit that
/// answered, or one silent Exchange without `unit` when none did.
struct Exchange {
  TimePoint asked_at{};
  TimePoint ended_at{};
  Endpoint request{};
  std::optional<Endpoint> unit;     ///< who answered; for a silent physical request the unit that was asked
  std::vector<std::uint8_t> asked;  ///< request payload, service id first
  std::vector<std::uint8_t> response;  ///< positive: whole payload, service id + 0x40 first; else empty
  ExchangeResult result = ExchangeResult::silent;
  std::uint8_t negative_code = 0;  ///< ISO 14229-1 NRC when refused
  int pending = 0;                 ///< how many 0x78 came before
};

}  // namespace sumplog
