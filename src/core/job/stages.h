#pragma once
#include <array>
#include <optional>
#include <string_view>
#include <vector>

#include "core/item/item.h"
#include "core/item/time.h"
#include "core/journal/event.h"

namespace sumplog {

/// What a job is made of, in the usual order. Any order is allowed, and each may come again.
inline constexpr std::array<std::string_view, 15> kStages{
    "reception",   "road test before", "codes before", "sample",          "line opened",
    "exchange",    "drain and parts",  "refill",       "cool down",       "selector cycle",
    "level check", "closing",          "codes after",  "road test after", "hand-over"};

/// The stage of that name, with a life as long as the program.
/// out  nothing: there is no such stage
[[nodiscard]] std::optional<std::string_view> stage_named(std::string_view name);

/// Follows the stages of the work as a person begins, ends and skips them. Several may be open at once.
class Stages {
 public:
  /// Appends a `stage` line for an entry about a stage. Another entry, or an unknown stage, says nothing.
  void on_entry(const Entry& entry, std::vector<Event>& events);

  /// The open stage that was begun last.
  /// out  nothing: none is open
  [[nodiscard]] std::optional<std::string_view> current() const;

 private:
  struct Open {
    std::string_view stage;
    TimePoint begun{};
  };
  void begin(std::string_view stage, TimePoint at);
  void end(std::string_view stage, TimePoint at);

  std::vector<Open> open_;  ///< each stage once at most; sorted by `begun`
};

}  // namespace sumplog
