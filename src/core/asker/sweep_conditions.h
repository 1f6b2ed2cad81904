#pragma once
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/asker/plan.h"
#include "core/diagnostics/exchange.h"
#include "core/isotp/message.h"
#include "core/item/item.h"
#include "core/item/time.h"
#include "core/journal/event.h"

namespace sumplog {

/// What of the entry `confirmed`: somebody has agreed that the identifiers in its `origin` are asked for.
inline constexpr std::string_view kConfirmedSweep = "sweep";

/// Whether a sweep may ask, by what the bus and the person say. It may begin when somebody has agreed, the plug is in, the fault
/// codes have been told, and the vehicle stands: its speed is told by PID 0D, and is 0. It must end when the vehicle moves, the
/// plug comes out, a fault code appears that was not there at the beginning, or a unit does not tell its codes any more.
/// While the speed is not known it must wait.
/// src  own choice: times; SAE J1979 (PID 0D, services 03 and 07); ISO 14229-1 service 19 02
class SweepConditions {
 public:
  /// in   units   request endpoints of those that are swept
  ///      ranges  as the consent must name them
  SweepConditions(BusName bus, const std::vector<Endpoint>& units, std::string ranges);

  /// Questions about fault codes, again and again: 03 and 07 of all units, 19 02 of those that are swept.
  [[nodiscard]] std::vector<Task> polls(TimePoint now) const;

  void on_entry(const Entry& entry);
  void on_exchange(const Exchange& exchange);
  void on_event(const Event& event);
  void set_plug_out(bool out) { plug_out_ = out; }
  /// The unit is not asked any more: what it does not tell is no reason.
  void leave(const Endpoint& unit);

  /// Why it may not begin, the first thing to be mended; nothing: it may.
  [[nodiscard]] std::optional<std::string> hindrance(TimePoint now) const;
  void begin(TimePoint now);
  /// After begin(): why it must not ask at this moment.
  [[nodiscard]] std::optional<std::string> pause(TimePoint now) const;
  /// After begin(): why it must end.
  [[nodiscard]] std::optional<std::string> breach(TimePoint now) const;

  [[nodiscard]] const std::string& agreed_by() const { return agreed_by_; }
  /// "P0711 of 7E9, …", or "none".
  [[nodiscard]] std::string codes_before() const;

 private:
  using Question = std::vector<std::uint8_t>;
  struct Code {
    std::string unit;
    std::string code;
    bool failing = false;  ///< its test fails now (ISO 14229-1); such a one is listed a second time without
    friend auto operator<=>(const Code&, const Code&) = default;
  };
  struct Told {
    TimePoint at{};
    Endpoint request{};
  };
  struct Poll {
    std::optional<Endpoint> to;
    Question question;
    int silences = 0;
    std::optional<TimePoint> settled_at;  ///< told, refused, or silent twice
    bool told = false;
  };
  void on_speed(const Exchange& exchange);
  void on_codes(const Exchange& exchange);
  void take(const Code& code);
  [[nodiscard]] Poll* poll_of(const Exchange& exchange);

  BusName bus_;
  std::string ranges_;
  std::vector<Poll> polls_;
  std::string agreed_by_;
  bool plug_out_ = false;
  std::optional<std::pair<int, TimePoint>> speed_;  ///< km/h, of PID 0D
  bool moves_ = false;                              ///< by any speed that was read
  std::set<Code> codes_;
  std::map<std::pair<Endpoint, Question>, Told> told_;  ///< the last time, by the unit that told
  std::optional<std::set<Code>> before_;
  std::optional<Code> appeared_;
};

}  // namespace sumplog
