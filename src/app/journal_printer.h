#pragma once
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "app/event_words.h"
#include "core/journal/event.h"

namespace sumplog {

/// Prints the journal: as JSON lines, or for a person at 80 columns.
class JournalPrinter {
 public:
  JournalPrinter(std::ostream& out, bool json);
  /// Call flush() behind the last one that a person waits for.
  void print(const std::vector<Event>& events);
  /// One event whose journal line was made already.
  void print(const Event& event, const std::string& line);
  void flush();
  [[nodiscard]] bool failed() const;

 private:
  void print_text(const Event& event);
  void on_reading(const ReadingEvent& e);
  void on_thermal(const ThermalEvent& e);
  void line(TimePoint at, const std::string& text);

  std::ostream& out_;
  bool json_;
  std::optional<TimePoint> start_;
  std::optional<TimePoint> thermal_at_;  ///< last line about the temperature
  std::optional<double> reading_c_;      ///< of the unit
  std::optional<double> hand_c_;         ///< of a second thermometer
  EventWords words_{false};
};

}  // namespace sumplog
