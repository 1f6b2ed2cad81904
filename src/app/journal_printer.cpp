#include "app/journal_printer.h"

#include <algorithm>
#include <cmath>
#include <ctime>
#include <ostream>
#include <string_view>

#include "core/codes/code_sheet.h"
#include "core/fluid/sums_text.h"
#include "core/item/json_line.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

using namespace std::chrono_literals;

constexpr Duration kThermalEvery = 950ms;  // one line a second, though readings do not come on the dot

template <class... F>
struct Overloaded : F... {
  using F::operator()...;
};
template <class... F>
Overloaded(F...) -> Overloaded<F...>;  // clang 14 deduces no aggregates

std::string clock(Duration since) {
  const auto s = std::chrono::duration_cast<std::chrono::seconds>(since).count();
  const auto two = [](std::int64_t n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return two(s / 3600) + ":" + two(s / 60 % 60) + ":" + two(s % 60);
}

/// "2:10" in minutes and seconds, "75 min" when seconds no longer matter.
std::string ahead(double seconds) {
  constexpr std::int64_t kCoarse_s = 3600;
  const auto whole = static_cast<std::int64_t>(seconds + 0.5);
  if (whole >= kCoarse_s) return std::to_string(whole / 60) + " min";
  return std::to_string(whole / 60) + (whole % 60 < 10 ? ":0" : ":") + std::to_string(whole % 60);
}

/// "2 h 05 min": for what takes hours nobody needs seconds.
std::string long_ahead(double seconds) {
  const auto minutes = static_cast<std::int64_t>(seconds / 60 + 0.5);
  if (minutes < 60) return std::to_string(minutes) + " min";
  return std::to_string(minutes / 60) + " h " + (minutes % 60 < 10 ? "0" : "") +
         std::to_string(minutes % 60) + " min";
}

/// "15:40" where this machine stands; empty for a table of readings, whose time begins at 0.
std::string time_of_day(TimePoint at) {
  constexpr std::int64_t kFirstDay_s = 86400;
  const std::time_t seconds = micros(at) / 1'000'000;
  std::tm local{};
  if (seconds < kFirstDay_s || localtime_r(&seconds, &local) == nullptr) return {};
  const auto two = [](int n) { return (n < 10 ? "0" : "") + std::to_string(n); };
  return two(local.tm_hour) + ":" + two(local.tm_min);
}

/// "ready about 15:40 (15:10 to 16:30), in 1 h 05 min: …"
std::string plan_text(const ForecastEvent& e) {
  const auto moment = [&](const std::optional<double>& in_s) {
    if (!in_s) return std::string("never");
    const std::string day = time_of_day(e.at + Duration{static_cast<std::int64_t>(*in_s * 1e6)});
    return day.empty() ? "in " + long_ahead(*in_s) : day;
  };
  const auto& [low, likely, high] = e.ready_in_s;
  std::string text = "plan: fluid below " + fixed(e.target_c, 0) + " °C";
  if (e.coolant_target_c) text += " and coolant below " + fixed(*e.coolant_target_c, 0) + " °C";
  text += likely ? " about " + moment(likely) : " perhaps never";
  text += " (" + moment(low) + " to " + moment(high) + ")";
  if (likely) text += ", " + long_ahead(*likely) + " from now";
  return text + "; " + joined(e.assumes, "; ");
}

std::string stage_text(const StageEvent& e) {
  return "== " + e.stage + " " + std::string(text_of(e.change)) + (e.why.empty() ? "" : ": " + e.why);
}

std::string hold_text(const HoldEvent& e) {
  std::string text = "selector " + e.position + ": ";
  text += e.held_s ? "held " + fixed(*e.held_s, 1) + " s" : "held";
  if (e.quality == Quality::by_hand) text += " (by hand)";
  if (!e.enough) text += ", too short: " + fixed(e.wanted_s, 0) + " s are asked for";
  return text + (e.cycle_complete ? "; the selector cycle is complete" : "");
}

std::string verdict_text(const VerdictEvent& e) {
  std::string text = "== level check: conditions ";
  text += e.kept ? "kept" : "not kept: " + joined(e.why, "; ");
  if (e.temp_out_c && e.temp_in_c)
    text += "; plug out at " + fixed(*e.temp_out_c, 1) + " °C, in at " + fixed(*e.temp_in_c, 1) + " °C";
  if (e.level_seen) text += "; level seen: " + e.level_seen->flow;
  return text;
}

}  // namespace

JournalPrinter::JournalPrinter(std::ostream& out, bool json) : out_(out), json_(json) {}

bool JournalPrinter::failed() const {
  return !out_;
}

void JournalPrinter::print(const std::vector<Event>& events) {
  for (const Event& event : events) print(event, json_ ? journal_line(event) : std::string());
  if (!events.empty()) flush();
}

void JournalPrinter::print(const Event& event, const std::string& line) {
  if (json_)
    out_ << line << '\n';
  else
    print_text(event);
}

void JournalPrinter::flush() {
  out_.flush();
}

void JournalPrinter::line(TimePoint at, const std::string& text) {
  std::vector<std::string> rows;
  add_wrapped(rows, clock(at - *start_) + "  ", text);
  for (const std::string& row : rows) out_ << row << '\n';
}

void JournalPrinter::print_text(const Event& event) {
  std::visit(
      [&](const auto& e) {
        if (!start_) start_ = e.at;
      },
      event);
  std::visit(
      Overloaded{
          [&](const VehicleEvent& e) {
            std::string text = e.ecu.empty() ? "vehicle:" : "unit " + e.ecu + ":";
            if (!e.vin.empty()) text += " VIN " + e.vin;
            if (!e.name.empty()) text += " name " + e.name;
            if (!e.calibration_ids.empty()) text += " calibration " + joined(e.calibration_ids, " ");
            if (!e.cvn.empty()) text += " verification number " + joined(e.cvn, " ");
            if (!e.pids.empty()) text += " " + std::to_string(e.pids.size()) + " parameters supported";
            if (!e.claim.empty()) text += " J1939 name " + e.claim;
            if (!e.state.empty()) text += " " + e.state;
            if (!e.why.empty()) text += ": " + e.why;
            line(e.at, text);
          },
          [&](const ReadingEvent& e) {
            if (e.signal != "fluid_temperature") return;
            if (e.value != reading_c_ && !e.value) line(e.at, "no fluid temperature: " + e.why);
            reading_c_ = e.value;
          },
          [&](const ThermalEvent& e) {
            if (!e.temp_c || (thermal_at_ && e.at - *thermal_at_ < kThermalEvery)) return;
            thermal_at_ = e.at;
            std::string text = "fluid ";
            text += reading_c_ ? fixed(*reading_c_, 0) : "?";
            text += " °C  " + std::string(text_of(e.window));
            if (e.rate_c_per_min) text += "  " + fixed(*e.rate_c_per_min, 1) + " °C/min";
            if (e.window == WindowState::below && e.enter_in_s && (*e.enter_in_s)[1]) {
              text += "  starts in about " + ahead(*(*e.enter_in_s)[1]);
              if (e.stay_s && (*e.stay_s)[1]) text += ", lasts " + ahead(*(*e.stay_s)[1]);
            }
            if (e.window == WindowState::inside && e.stay_s && (*e.stay_s)[1])
              text += "  ends in about " + ahead(*(*e.stay_s)[1]);
            for (const std::string& flag : e.flags) text += "  " + flag;
            line(e.at, text);
          },
          [&](const WindowEvent& e) {
            line(e.at, "== window: " + std::string(text_of(e.from)) + " -> " + std::string(text_of(e.to)) +
                           (e.why.empty() ? "" : " (" + e.why + ")"));
          },
          [&](const CheckEvent& e) {
            line(e.at, "-- level check: " + std::string(text_of(e.state)) +
                           (e.why.empty() ? "" : ": " + e.why.front()) +
                           (e.why.size() > 1 ? " (+" + std::to_string(e.why.size() - 1) + ")" : ""));
            if (!e.advice.empty() && e.advice != advice_) line(e.at, "   " + e.advice);
            advice_ = e.advice;
          },
          [&](const CueEvent& e) { line(e.at, "** " + e.text); },
          [&](const ForecastEvent& e) { line(e.at, plan_text(e)); },
          [&](const StageEvent& e) { line(e.at, stage_text(e)); },
          [&](const HoldEvent& e) { line(e.at, hold_text(e)); },
          [&](const VerdictEvent& e) { line(e.at, verdict_text(e)); },
          [&](const BalanceEvent& e) { line(e.at, balance_text(e)); },
          [&](const ExchangeEvent& e) { line(e.at, exchange_text(e)); },
          [&](const LevelSumsEvent& e) { line(e.at, level_text(e)); },
          [&](const EntryEvent& e) {
            line(e.at, "entry: " + e.name +
                           (e.happened ? ", " + fixed(in_seconds(e.at - *e.happened), 0) + " s ago" : ""));
          },
          [&](const GapEvent& e) {
            line(e.at, "gap of " + fixed(in_seconds(e.to - e.from), 0) + " s: " + e.why);
          },
          [&](const ClockEvent& e) {
            line(e.at, "the computer's clock was set by " + fixed(in_seconds(e.step), 1) +
                           " s; the times of this job go on");
          },
          [&](const CodesEvent& e) {
            const std::string of = "codes of " + e.ecu + " (" + e.service + "): ";
            if (!e.refused.empty()) line(e.at, of + e.refused);
            if (!e.codes) return;
            std::vector<std::string> codes;
            for (const CodeLine& code : *e.codes) codes.push_back(code.code);
            line(e.at, of + (codes.empty() ? "none told" : joined(codes, " ")));
          },
          [&](const ScanEvent& e) {
            line(e.at,
                 "== scan " + e.scan + ": " +
                     (e.complete ? "complete in the units asked" : "not complete: " + joined(e.why, ", ")));
          },
          [&](const ComparedEvent& e) {
            for (const std::string& text : text_of(e)) line(e.at, "codes after the work: " + text);
          },
          [&](const LossEvent& e) {
            line(e.at, "lost" + (e.ecu.empty() ? "" : " from " + e.ecu) + ": " + e.why);
          },
      },
      event);
}

}  // namespace sumplog
