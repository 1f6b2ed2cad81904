#pragma once
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "core/item/time.h"
#include "core/job/signal_sources.h"
#include "core/journal/event.h"

namespace sumplog {

/// Whether fault codes speak against the fluid temperature. "No sensor code" counts only if the unit that gives the
/// temperature was asked for its codes and answered.
class CodeCondition {
 public:
  void on_codes(const CodesEvent& codes);
  /// This unit told again what it had told.
  void on_told_again(const BusUnit& unit, TimePoint at);
  /// From here on the time since the codes were read stands still: no scan is possible.
  void on_plug_out(TimePoint at) {
    if (!plug_out_at_) plug_out_at_ = at;
  }
  void on_plug_in() { plug_out_at_.reset(); }

  /// "fault code P0711 in 7E9 …", one for each unit that told one.
  [[nodiscard]] std::vector<std::string> objections() const;
  /// Whether there is one.
  [[nodiscard]] bool objects() const;
  /// Why the codes of this unit do not count as read at `now`; empty when they do.
  /// in   unit  that gives the fluid temperature; empty: not known yet
  [[nodiscard]] std::string missing(const BusUnit& unit, Duration within, TimePoint now) const;
  /// When this unit last told its codes before `by`; after it, if it did not before.
  [[nodiscard]] std::optional<TimePoint> read_at(const BusUnit& unit, TimePoint by) const;
  /// When they stop to count by themselves.
  [[nodiscard]] std::optional<TimePoint> ends(const BusUnit& unit, Duration within) const;

 private:
  std::map<std::pair<BusUnit, std::string>, std::vector<std::string>> sensor_codes_;  ///< by unit and service
  /// From when to when a unit told its codes without a pause.
  struct Read {
    TimePoint first{};
    TimePoint last{};
  };
  [[nodiscard]] const Read* read_of(const BusUnit& unit) const;

  std::map<BusUnit, Read> reads_;
  std::optional<TimePoint> plug_out_at_;
};

}  // namespace sumplog
