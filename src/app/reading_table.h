#pragma once
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/journal/event.h"

namespace sumplog {

/// The readings of a job as the table that `replay` reads: one row for each fluid temperature, with the newest engine speed,
/// vehicle speed and coolant temperature that is not older than three seconds, each of the unit that first gave a value of it: two units are never mixed. An empty field is no reading.
class ReadingTable {
 public:
  [[nodiscard]] static std::string_view header() { return "t_s,temp_c,rpm,speed_kmh,coolant_c\n"; }
  void on_events(const std::vector<Event>& events, std::string& out);

 private:
  struct Newest {
    TimePoint at{};
    std::string text;
  };
  using Unit = std::pair<BusName, std::string>;  ///< `ecu` of its readings
  [[nodiscard]] bool is_source(const ReadingEvent& reading);
  [[nodiscard]] std::string newest(std::string_view signal, TimePoint now) const;
  std::map<std::string, Newest, std::less<>> newest_;
  std::map<std::string, Unit, std::less<>> source_;
};

}  // namespace sumplog
