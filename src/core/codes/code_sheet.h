#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/journal/event.h"

namespace sumplog {

/// The last scan of a journal, or everything that was told about codes when there was none, set out for a person.
class CodeSheet {
 public:
  void on_event(const Event& event);

  /// nothing: no scan has ended
  [[nodiscard]] const std::optional<ScanEvent>& scan() const { return scan_; }
  [[nodiscard]] bool anything() const { return !units_.empty(); }
  /// Lines of at most 80 columns where their words allow it.
  [[nodiscard]] std::vector<std::string> text() const;

 private:
  struct Code {
    CodeLine line;
    std::vector<std::string> status;  ///< of all services
    std::vector<ReadingEvent> frozen;
    std::vector<std::string> records;  ///< "19 04: 0201…"
  };
  struct Unit {
    std::vector<Code> codes;
    bool told = false;
    std::vector<std::string> refused;
    std::optional<MonitorStatus> monitors;
    std::vector<std::string> lamps;  ///< SAE J1939: those that are on
    std::string frozen_by;           ///< code that froze the values which follow
    Code& code(const std::string& text);
  };
  void on_codes(const CodesEvent& event);
  [[nodiscard]] static std::vector<Code> joined_codes(const std::vector<Code>& codes);
  void add_unit(const std::string& ecu, const Unit& unit, std::vector<std::string>& lines) const;
  void add_scan(std::vector<std::string>& lines) const;

  std::string name_;  ///< of the scan that is being read
  std::map<std::string, Unit> units_;
  std::map<std::string, std::string> names_;  ///< of units, by ecu
  std::optional<ScanEvent> scan_;
  std::optional<ComparedEvent> compared_;
};

/// A line for each difference, "7E9  P0711  gone  (before: stored)".
[[nodiscard]] std::vector<std::string> text_of(const ComparedEvent& compared);

}  // namespace sumplog
