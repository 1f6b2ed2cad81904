#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "core/item/json_line.h"
#include "core/journal/event.h"

namespace sumplog {

/// The newest journal line of the kinds that say how things stand, for somebody who comes in the middle of a job.
class NewestLines {
 public:
  /// in   line  the event's journal line
  void on_event(const Event& event, const std::string& line);
  /// Adds "unit" (whether one is heard) and "newest": for each kind its line and how old it is. What never came is absent.
  void write(JsonLine& out, TimePoint now) const;

  /// A unit is heard while it has said something in the last five seconds (own choice: the time after which one counts as
  /// silent, docs/journal.md).
  static constexpr Duration kHeardFor = std::chrono::seconds{5};

 private:
  struct Newest {
    std::string_view kind;
    TimePoint at{};
    std::string line;  ///< empty: none came
  };
  std::array<Newest, 5> newest_{{{"thermal", {}, {}},
                                 {"window", {}, {}},
                                 {"check", {}, {}},
                                 {"forecast", {}, {}},
                                 {"verdict", {}, {}}}};
  std::optional<TimePoint> heard_at_;
};

}  // namespace sumplog
