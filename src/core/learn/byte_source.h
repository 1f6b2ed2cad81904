#pragma once
#include <compare>
#include <cstdint>
#include <optional>
#include <string>

#include "core/isotp/message.h"

namespace sumplog {

/// Where the same bytes come from again and again: a frame that a unit broadcasts by itself, a J1939 group of several packets,
/// or an identifier that it answers. A source whose length changes is several.
struct ByteSource {
  Endpoint from{};                ///< the frame; or the unit that answers
  std::optional<Endpoint> asked;  ///< to whom the request goes; absent: a broadcast
  std::uint8_t service = 0;       ///< 22 or 21 (ISO 14229-1); 0: a broadcast
  std::uint32_t identifier = 0;   ///< DID or local identifier; 0: a broadcast
  std::optional<std::uint32_t>
      group;  ///< PGN of a message of several packets; `from` is then the identifier of its sender
  std::uint8_t length = 0;  ///< bytes of the frame; of an answer those behind the identifier
  friend auto operator<=>(const ByteSource&, const ByteSource&) = default;
  [[nodiscard]] bool is_broadcast() const { return !asked; }
};

/// "frame 3B2", "group FEE3 from 00", "22 1A05 of 7E1"; with the bus in front where a capture has several.
[[nodiscard]] std::string text_of(const ByteSource& source);

}  // namespace sumplog
