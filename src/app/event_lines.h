#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace sumplog {

/// The server-sent events in a stream, piece by piece.
/// src  HTML Living Standard, 9.2.6
class EventLines {
 public:
  void on_bytes(std::string_view bytes) { buffer_ += bytes; }
  struct One {
    std::uint64_t id = 0;
    std::string data;
  };
  /// The next whole event with data; nothing: more has to come.
  [[nodiscard]] std::optional<One> next();

 private:
  std::string buffer_;
};

}  // namespace sumplog
