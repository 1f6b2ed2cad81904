#pragma once
#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>

#include "io/web_server.h"

namespace sumplog {

/// The journal of a job as numbered lines, from 1 at its start: what a replay of its file gives, in the same order. The newest
/// ones are kept in memory.
class JournalLines {
 public:
  /// Some 250,000 lines: a working day.
  static constexpr std::size_t kMostBytes = 32U << 20;

  explicit JournalLines(std::size_t most_bytes = kMostBytes) : most_bytes_(most_bytes) {}

  void add(std::string line);
  /// Number of the newest line; 0: there is none.
  [[nodiscard]] std::uint64_t last() const { return last_; }
  /// The line after which a client goes on that has seen line `seen`: no line that is gone, none that never was.
  [[nodiscard]] std::uint64_t resume_after(std::uint64_t seen) const;
  /// The lines after that one as server-sent events, `most_bytes` or a little more.
  /// out  nothing: the next line is gone already
  [[nodiscard]] std::optional<EventBlock> events_after(std::uint64_t seen, std::size_t most_bytes) const;

 private:
  std::size_t most_bytes_;
  std::size_t bytes_ = 0;
  std::uint64_t last_ = 0;
  std::deque<std::string> lines_;  ///< the last one is line last_
};

}  // namespace sumplog
