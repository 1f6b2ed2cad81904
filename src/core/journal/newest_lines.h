#pragma once
#include <array>
#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "core/item/json_line.h"
#include "core/job/plug.h"
#include "core/journal/event.h"

namespace sumplog {

/// The newest journal line of the kinds that say how things stand, for somebody who comes in the middle of a job.
class NewestLines {
 public:
  /// in   line  the event's journal line
  void on_event(const Event& event, const std::string& line);
  /// Adds "unit" (whether one is heard), "plug" (whether it is out, since when) and "newest": for each kind, and in "readings"
  /// for each signal, its line and how old it is. What never came is absent.
  void write(JsonLine& out, TimePoint now) const;

  /// A unit is heard while it has said something in the last five seconds (own choice: the time after which one counts as
  /// silent, docs/journal.md).
  static constexpr Duration kHeardFor = std::chrono::seconds{5};

  /// Key of a second thermometer's reading among the signals.
  static constexpr std::string_view kByHand = "by_hand";

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
  /// Of each signal the first unit that gave a value stays its source (as in LevelCheck): two units never take turns.
  struct NewestReading {
    std::string ecu;
    Newest newest;
  };
  void on_reading(const ReadingEvent& reading, const std::string& line);
  void on_entry(const EntryEvent& entry);

  std::map<std::string, NewestReading, std::less<>> readings_;  ///< by signal; those by hand under kByHand
  Plug plug_;
  std::optional<TimePoint> heard_at_;
};

}  // namespace sumplog
