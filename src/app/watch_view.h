#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/event_words.h"
#include "core/journal/event.h"

namespace sumplog {

/// What a person who watches a job is told: lines for each event, and one line about now. It is fed with journal lines as a page
/// gets them (docs/web.md); times are job time in seconds.
class WatchView {
 public:
  explicit WatchView(bool in_fahrenheit = false) : fahrenheit_(in_fahrenheit), words_(in_fahrenheit) {}

  /// Takes one journal line.
  /// out  what is said of it, with the time of day, each line at most 80 columns; none: nothing (readings and estimates are in
  ///      the status)
  [[nodiscard]] std::vector<std::string> on_line(std::string_view line);
  /// Job time of the latest line, in seconds: it is at least so late.
  [[nodiscard]] double latest_s() const { return latest_s_; }

  /// Temperature (that of a second thermometer is marked "by hand"), window, check with its first reason as far as there is room,
  /// forecast, rate, age: one line of at most 80 columns.
  /// in   now_s  job time now; a temperature that is older than two seconds is no live reading, and never shown
  [[nodiscard]] std::string status(double now_s) const;

  /// How status() is to be shown: the word of the check, empty without a live reading.
  [[nodiscard]] std::string check(double now_s) const;

 private:
  void on_thermal(const ThermalEvent& e);
  [[nodiscard]] double age_s(double now_s) const;
  [[nodiscard]] bool live(double now_s) const;

  bool fahrenheit_;
  EventWords words_;
  double latest_s_ = 0;
  std::optional<ThermalEvent> thermal_;
  std::optional<ReadingEvent> hand_;  ///< the newest of a second thermometer
  std::string ahead_;                 ///< "starts in 5:27"
  std::string check_;
  std::string check_why_;  ///< the first reason
};

}  // namespace sumplog
