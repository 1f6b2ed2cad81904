#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace sumplog {

/// What a person who watches a job is told: a line for each event, and one line about now. It is fed with journal lines as a page
/// gets them (docs/web.md); times are job time in seconds.
class WatchView {
 public:
  /// Takes one journal line.
  /// out  what is said of it, at most 80 columns; empty: nothing (readings and estimates are in the status)
  [[nodiscard]] std::string on_line(std::string_view line);

  /// Temperature, window, check with its first reason as far as there is room, forecast, rate, age: one line of at most 80 columns.
  /// in   now_s  job time now; a temperature that is older than two seconds is no live reading, and never shown
  [[nodiscard]] std::string status(double now_s) const;

  /// How status() is to be shown: the word of the check, empty without a live reading.
  [[nodiscard]] std::string check(double now_s) const;

 private:
  [[nodiscard]] bool live(double now_s) const;

  std::optional<double> thermal_at_s_;
  std::optional<double> temp_c_;
  std::optional<double> rate_c_per_min_;
  std::string window_;
  std::string window_why_;
  std::string ahead_;  ///< "starts in 5:27"
  std::string check_;
  std::string check_why_;  ///< the first reason
};

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
