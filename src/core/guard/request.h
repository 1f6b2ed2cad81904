#pragma once
#include <cstdint>
#include <vector>

#include "core/isotp/message.h"

namespace sumplog {

/// What the asker wants to send. Only the guard turns it into a frame.
struct Request {
  Endpoint to{};                      ///< bus, identifier, address byte
  std::vector<std::uint8_t> payload;  ///< service id first; 1…7 bytes (one less with an address byte)
};

}  // namespace sumplog
