#pragma once
#include <cstddef>
#include <deque>
#include <string>

#include "core/journal/event.h"

namespace sumplog {

/// The journal lines of the entries of a job, for somebody who comes later and wants to correct one. The newest ones are kept.
class EntryLines {
 public:
  /// Own choice: ten times what a long job has.
  static constexpr std::size_t kMost = 2000;

  /// in   line  the event's journal line
  void on_event(const Event& event, const std::string& line);
  /// {"entries":[…]} in the order in which they came.
  [[nodiscard]] std::string text() const;

 private:
  std::deque<std::string> lines_;
};

}  // namespace sumplog
