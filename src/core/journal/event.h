#pragma once
#include <array>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "core/codes/code_answer.h"
#include "core/decoder/decoder.h"
#include "core/item/frame.h"
#include "core/item/time.h"

namespace sumplog {

// What the core says. Each struct is one kind of journal line; docs/journal.md shows them as text.
// A value that is not known is an empty optional or an empty list, and then absent from the line.

/// What was learned about one control unit, or about the vehicle.
struct VehicleEvent {
  TimePoint at{};
  BusName bus{};
  std::string ecu;
  std::string vin;
  std::optional<bool> vin_check_digit;  ///< 49 CFR 565; European VINs need not match
  std::vector<std::string> calibration_ids;
  std::vector<std::string> cvn;
  std::string name;
  std::vector<std::string> pids;
  std::string claim;  ///< SAE J1939-81 NAME of the unit, 16 hex digits, highest first
  std::string
      state;  ///< "silent", "answers again", and of the whole bus "no unit answers", "another tester …"
  std::string why;  ///< of `state`
};

enum class Quality : std::uint8_t { measured, by_hand, suspect };

struct ReadingEvent {
  TimePoint at{};
  BusName bus{};
  std::string signal;
  std::optional<double> value;  ///< absent: the unit gave no value; `why` says what it sent
  int decimals = 0;
  std::string unit;
  std::string label;  ///< for selector positions and the like
  std::string ecu;
  Quality quality = Quality::measured;
  std::string why;
  // For the thermometer, not for the journal.
  double step = 0;  ///< distance of two neighbouring values, in `unit`; 0: not known
  Rounding rounding = Rounding::unknown;
};

enum class WindowState : std::uint8_t { unknown, below, inside, above };

/// 10, 50 and 90 % quantiles in seconds; an element without a value is "never".
using Quantiles = std::array<std::optional<double>, 3>;

struct ThermalEvent {
  TimePoint at{};
  std::optional<double> temp_c;
  std::optional<double> rate_c_per_min;
  std::optional<double> rate_low;
  std::optional<double> rate_high;
  std::optional<bool> estimate_inside;
  WindowState window = WindowState::unknown;
  std::string why;  ///< of `unknown`
  std::optional<Quantiles> enter_in_s;
  std::optional<Quantiles> stay_s;
  std::optional<std::optional<double>> announce_in_s;  ///< outer: said at all; inner: never
  std::vector<std::string> flags;
  bool by_hand = false;  ///< the unit is not believed: all this rests on a second thermometer
};

struct WindowEvent {
  TimePoint at{};
  WindowState from = WindowState::unknown;
  WindowState to = WindowState::unknown;
  std::optional<double> temp_c;
  std::string why;
};

enum class CheckState : std::uint8_t { unknown, not_yet, may_start, stop };

struct CheckEvent {
  TimePoint at{};
  CheckState state = CheckState::unknown;
  std::vector<std::string> why;  ///< in the order in which a person would mend them
  std::string advice;  ///< what to do about a fluid that is not inside; of the service file where it says
};

struct CueEvent {
  TimePoint at{};
  std::string name;
  std::string text;
};

struct EntryEvent {
  TimePoint at{};
  std::string id;
  std::string name;
  std::string fields;                 ///< one JSON object
  std::optional<TimePoint> happened;  ///< entered late: when it happened, as the person says
};

/// Cool-down plan: when the level check can be begun.
struct ForecastEvent {
  TimePoint at{};
  double target_c = 0;                     ///< the fluid must be below it
  std::optional<double> coolant_target_c;  ///< and the coolant below this
  Quantiles ready_in_s{};
  std::uint64_t samples = 0;
  std::vector<std::string> assumes;
};

/// The work went on to another stage, or one was left out.
enum class StageChange : std::uint8_t { begun, ended, skipped };
struct StageEvent {
  TimePoint at{};
  std::string stage;  ///< one of core/job/stages.h
  StageChange change = StageChange::begun;
  std::string why;                    ///< of "skipped", as the person says
  std::optional<TimePoint> happened;  ///< entered late
};

/// One position of the selector cycle was held, long enough or not.
struct HoldEvent {
  TimePoint at{};
  std::string position;
  std::optional<double> held_s;  ///< absent: ticked by a person, without a time
  double wanted_s = 0;
  bool enough = false;
  Quality quality = Quality::measured;  ///< measured: seen on the bus; by_hand: ticked
  bool cycle_complete = false;          ///< with this one, every position that the service file names
};

/// What a person saw at the standpipe, against the criterion of the service file.
struct LevelSeen {
  std::string flow;  ///< "dry", "drip", "thread", "stream"
  std::optional<double> ml_in_10_s;
  std::string by;               ///< who saw it
  std::string criterion;        ///< of the service file; empty: it names none
  std::optional<bool> reached;  ///< absent: there is no criterion
};

/// Whether the conditions of a level check were kept from plug out to plug in. Says nothing of the level itself.
struct VerdictEvent {
  TimePoint at{};
  bool kept = false;
  Quality thermometer = Quality::measured;  ///< measured or by_hand
  std::vector<std::string> why;             ///< of "not kept", in the order in which a person would mend them
  TimePoint out{};                          ///< the plug
  TimePoint in{};
  std::vector<std::string> by_hand;  ///< what rests on a person's word: "plug out 40 s ago", "selector cycle"
  std::optional<double> temp_out_c;
  std::optional<double> temp_decision_c;  ///< when the decision point was passed; absent: it was not
  std::optional<double> temp_in_c;
  std::optional<double> temp_low_c;  ///< lowest and highest in between
  std::optional<double> temp_high_c;
  std::optional<double> rate_c_per_min;  ///< at plug in
  std::optional<double> engine_rpm;      ///< mean in between
  double inside_for_s = 0;
  std::optional<LevelSeen> level_seen;
  std::string origin;  ///< of the window: "demo-9/service.toml: invented"
};

/// Litres out and in, of all entries so far, at one temperature.
struct BalanceEvent {
  struct Part {
    std::string part;  ///< "sample", "exchange", "drain", "pan", "refill", …
    double out_l = 0;  ///< at the reference temperature
    double in_l = 0;
  };
  TimePoint at{};
  double reference_c = 0;
  double density_kg_per_m3 = 0;  ///< at 15 °C
  double out_l = 0;
  double in_l = 0;
  std::vector<Part> parts;
  std::optional<double> to_refill_l;       ///< what must go back now, at `fresh_c`; below 0: too much is in
  std::optional<double> fresh_c;           ///< of the fluid that goes in, as last entered
  std::optional<double> exchange_ahead_l;  ///< while fluid is exchanged: in minus out
  std::string exchange_state;              ///< "balanced", "stop", "abort"; empty: no exchange, or no limits
  std::vector<std::string> assumes;        ///< density, temperatures that nobody said
};

/// How much of the fluid is new. Two bounds; the truth lies between them, and below both where parts are not flushed.
struct ExchangeEvent {
  struct Step {
    double through_l = 0;  ///< so far
    double new_mixed = 0;  ///< 0…1, old and new mix at once
    double new_ideal = 0;  ///< 0…1, the new pushes the old out
  };
  TimePoint at{};
  double fill_l = 0;
  double dead_l = 0;
  double drained_share = 0;  ///< of the fill, out and replaced without an exchange
  std::vector<Step> steps;   ///< the last one is now
  std::optional<double> wanted_share;
  std::optional<double> more_mixed_l;  ///< litres to go to the wanted share; absent: never, or nothing wanted
  std::optional<double> more_ideal_l;
  std::vector<std::string> assumes;
};

/// What the temperature at which the plug was put in means for the level.
struct LevelSumsEvent {
  TimePoint at{};
  double plug_in_c = 0;
  double edge_c = 0;  ///< of the window, the one that was missed
  double fill_l = 0;
  double ml_per_c = 0;
  std::array<double, 3> short_ml{};  ///< low, likely, high; below 0: too much stays in
  std::vector<std::string> assumes;
};

/// A stretch without live readings, derived from link events and silence.
struct GapEvent {
  TimePoint at{};
  BusName bus{};
  TimePoint from{};
  TimePoint to{};
  std::string why;
};

/// The computer's clock was set. Times go on without a step: from here on that clock differs from them by so
/// much more.
struct ClockEvent {
  TimePoint at{};
  Duration step{};
};

/// Something was dropped.
struct LossEvent {
  TimePoint at{};
  BusName bus{};
  std::string ecu;
  std::string why;
  std::uint64_t frames = 0;
};

/// One fault code, and what it means for this job.
struct CodeLine {
  std::string code;                 ///< "P0711-1F"
  std::vector<std::string> status;  ///< words
  std::string raw;                  ///< bytes as sent, in hex
  std::string text;                 ///< what it is about
  std::string code_class;           ///< what it means for the job; advice. Empty: its status tells no fault
  std::string why;                  ///< of the class
};

/// What one unit answered about its fault codes.
struct CodesEvent {
  TimePoint at{};
  BusName bus{};
  std::string scan;  ///< "before", "after", "during"; empty: asked outside of a scan
  std::string ecu;
  std::string service;                         ///< "03", "19 02"; "19 02 08": its mask left out faults
  std::optional<std::vector<CodeLine>> codes;  ///< where a list was asked for; an empty one is an answer
  std::string code;                            ///< the one that the rest belongs to
  std::vector<ReadingEvent> frozen;            ///< values of a freeze frame
  std::string record;                          ///< snapshot or extended data as sent, in hex
  std::optional<MonitorStatus> monitors;
  std::vector<std::string> lamps;  ///< SAE J1939: those that are on
  std::string refused;             ///< why the unit does not say it
};

/// What a scan has reached, said when it ends. Codes are known in the units that answered, never more.
struct ScanEvent {
  TimePoint at{};
  BusName bus{};
  std::string scan;
  std::vector<std::string> asked;
  std::vector<std::string> answered;
  std::vector<std::string> silent;
  std::vector<std::string> not_asked;
  bool complete = false;         ///< every unit that is known to be there has told its codes
  std::vector<std::string> why;  ///< of "not complete"
  std::optional<double> supply_low_v;
};

enum class CodeChange : std::uint8_t { same, status_changed, gone, appeared, silent_now, silent_before };

/// Codes after the work against codes before it.
struct ComparedEvent {
  struct Line {
    std::string ecu;
    std::string code;  ///< empty: of a unit that is silent in one of the scans and told no code in the other
    CodeChange change = CodeChange::same;
    std::vector<std::string> before;  ///< status
    std::vector<std::string> after;
  };
  TimePoint at{};
  std::vector<Line> lines;
  bool complete = false;             ///< both scans were
  std::vector<std::string> cleared;  ///< signs that a memory was cleared in between
};

using Event =
    std::variant<VehicleEvent, ReadingEvent, ThermalEvent, WindowEvent, CheckEvent, CueEvent, EntryEvent,
                 StageEvent, HoldEvent, VerdictEvent, BalanceEvent, ExchangeEvent, LevelSumsEvent,
                 ForecastEvent, GapEvent, ClockEvent, LossEvent, CodesEvent, ScanEvent, ComparedEvent>;

/// One journal line, without a newline.
[[nodiscard]] std::string journal_line(const Event& event);
[[nodiscard]] std::string_view text_of(WindowState state);
[[nodiscard]] std::string_view text_of(CheckState state);
[[nodiscard]] std::string_view text_of(Quality quality);
[[nodiscard]] std::string_view text_of(StageChange change);
[[nodiscard]] std::string_view text_of(CodeChange change);

}  // namespace sumplog
