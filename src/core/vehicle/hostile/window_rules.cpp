#include <algorithm>
#include <chrono>
#include <map>
#include <optional>

#include "core/vehicle/hostile/ear.h"
#include "core/vehicle/hostile/journal_text.h"
#include "core/vehicle/hostile/rules.h"

namespace sumplog::hostile {
namespace {

using namespace std::chrono_literals;

constexpr Duration kFresh = 3s;  // docs/decisions.md "Inside the window: four conditions at once"
// decoders/demo-9/service.toml, invented; the J1939 jobs have the same window
constexpr double kLow_c = 35;
constexpr double kHigh_c = 45;
constexpr double kIdleLow_rpm = 600;
constexpr double kIdleHigh_rpm = 900;
constexpr Duration kSettling = 60s;
constexpr double kRunning_rpm = 350;  // docs/journal.md, `check`
// A line that comes by itself, because time went on, is said at that time: the bus in virtual time is never late.
constexpr Duration kMostSaidLate = kMostEarly;

/// The newest that one signal's source said.
struct Newest {
  std::string source;  ///< bus and unit: the first that gave a value
  TimePoint at{};
  double value = 0;
  std::string label;
  bool known = false;  ///< a value came, and nothing after it took it back
};

/// A fold over the journal as text, and over those items that interrupt.
class Fold {
 public:
  explicit Fold(const Trace& trace) : trace_(trace), times_(core_times(trace.items)) {}

  std::optional<Finding> run() {
    std::size_t line = 0;
    std::size_t item = 0;
    while (line < trace_.journal.size() && !finding_) {
      now_ = JournalText(trace_.journal[line]).at();
      if (now_ < before_)
        return Finding{kOrder, now_, "the journal goes back in time: " + trace_.journal[line]};
      before_ = now_;
      while (item < times_.size() && times_[item] < now_) on_item(item++);
      hold_on(now_);
      while (item < times_.size() && times_[item] == now_) on_item(item++);
      for (; line < trace_.journal.size() && JournalText(trace_.journal[line]).at() == now_; ++line)
        on_line(line);
      at_end_of_moment();
    }
    return finding_;
  }

 private:
  static constexpr char kOrder[] = "the journal is in order";
  static constexpr char kInside[] = "no inside without a fresh valid reading";
  static constexpr char kCheck[] = "the check may start only when everything is seen";
  static constexpr char kLive[] = "a temperature only with a live reading";
  static constexpr char kInTime[] = "what ends by time is said in time";

  void break_rule(const char* rule, const std::string& what) {
    if (!finding_) finding_ = Finding{rule, now_, what};
  }

  void on_item(std::size_t index) {
    const Item& item = trace_.items[index];
    bool trouble = std::holds_alternative<Resume>(item);
    if (const auto* link = std::get_if<LinkEvent>(&item))
      trouble = link->state == LinkState::down || link->state == LinkState::gone ||
                link->state == LinkState::bus_off;
    if (const auto* frame = std::get_if<CanFrame>(&item))
      trouble =
          frame->kind == FrameKind::error && (frame->id.value & 0x40U) != 0;  // linux/can/error.h, bus-off
    if (!trouble) return;
    trouble_at_ = times_[index];
    running_since_.reset();
    for (auto& [signal, newest] : newest_) newest.known = false;
  }

  /// What was said before must hold up to this moment.
  void hold_on(TimePoint now) {
    if (inside_ && !fresh("fluid_temperature", now - Duration{1}))
      break_rule(kInside, "inside was still said, and the last reading was older than three seconds");
    if (may_start_) {
      for (const char* signal : {"fluid_temperature", "engine_speed", "vehicle_speed", "selector_position"})
        if (!fresh(signal, now - Duration{1}))
          break_rule(kCheck,
                     std::string("may start was still said, and nothing fresh was known of ") + signal);
    }
  }

  void on_line(std::size_t index) {
    const std::string& line = trace_.journal[index];
    const JournalText text(line);
    if (trace_.said_at[index] - now_ > kMostSaidLate) break_rule(kInTime, "said too late: " + line);
    if (text.is("reading")) on_reading(text);
    if (text.is("window")) {
      if (text.text("from") != window_)
        break_rule(kOrder, "the window was not '" + std::string(text.text("from")) + "' before: " + line);
      window_ = text.text("to");
      inside_ = window_ == "inside";
    }
    if (text.is("thermal")) {
      // Judged where it stands: a second reading of the same moment may end the window again.
      thermal_inside_ = text.text("window") == "inside";
      if (thermal_inside_) check_reading(fresh("fluid_temperature", now_));
    }
    if (text.is("check")) may_start_ = text.text("state") == "may start";
    if ((text.is("thermal") || text.is("window")) && text.value("temp_c")) temperature_said_ = true;
  }

  void on_reading(const JournalText& text) {
    const std::string source = std::string(text.text("bus")) + " " + std::string(text.text("ecu"));
    Newest& newest = newest_[std::string(text.text("signal"))];
    const auto value = text.number("value");
    const bool good = value && text.text("quality") == "measured";
    if (newest.source.empty() && value) newest.source = source;
    if (newest.source != source) return;
    const bool hole = !newest.known || now_ - newest.at > kFresh;
    newest.known = good;
    if (!good) return;
    newest.at = now_;
    newest.value = *value;
    newest.label = text.text("label");
    if (text.text("signal") != "engine_speed") return;
    if (newest.value < kRunning_rpm) {
      running_since_.reset();
    } else if (!running_since_ || (hole && now_ - last_rpm_ > kFresh)) {
      running_since_ = now_;
    }
    last_rpm_ = now_;
  }

  [[nodiscard]] const Newest* fresh(const std::string& signal, TimePoint at) const {
    const auto found = newest_.find(signal);
    if (found == newest_.end() || !found->second.known || at - found->second.at > kFresh) return nullptr;
    return &found->second;
  }

  /// Inside is said: of this reading.
  void check_reading(const Newest* fluid) {
    if (fluid == nullptr)
      break_rule(kInside, "inside is said without a fresh valid reading");
    else if (fluid->value < kLow_c || fluid->value > kHigh_c)
      break_rule(kInside, "inside is said, and the reading itself is not");
  }

  void at_end_of_moment() {
    const Newest* const fluid = fresh("fluid_temperature", now_);
    if (inside_) check_reading(fluid);
    if (thermal_inside_ && !inside_) break_rule(kInside, "a thermal line says inside, the window does not");
    if (temperature_said_ && fluid == nullptr)
      break_rule(kLive, "a temperature is said without a live reading");
    if (may_start_) {
      const Newest* const rpm = fresh("engine_speed", now_);
      const Newest* const speed = fresh("vehicle_speed", now_);
      const Newest* const selector = fresh("selector_position", now_);
      if (!inside_) break_rule(kCheck, "may start is said outside the window");
      if (rpm == nullptr || rpm->value < kIdleLow_rpm || rpm->value > kIdleHigh_rpm)
        break_rule(kCheck, "may start is said, and the engine is not seen to idle");
      if (speed == nullptr || speed->value > 0)
        break_rule(kCheck, "may start is said, and the vehicle is not seen to stand");
      if (selector == nullptr || selector->label != "P")
        break_rule(kCheck, "may start is said, and the selector is not seen in P");
      if (!running_since_ || now_ - *running_since_ < kSettling)
        break_rule(kCheck, "may start is said before the settling time has passed");
    }
    thermal_inside_ = temperature_said_ = false;
  }

  const Trace& trace_;
  std::vector<TimePoint> times_;
  std::optional<Finding> finding_;
  TimePoint now_ = TimePoint::min();
  TimePoint before_ = TimePoint::min();
  TimePoint trouble_at_ = TimePoint::min();
  std::map<std::string, Newest> newest_;
  std::optional<TimePoint> running_since_;
  TimePoint last_rpm_ = TimePoint::min();
  std::string window_ = "unknown";
  bool inside_ = false;
  bool thermal_inside_ = false;
  bool temperature_said_ = false;
  bool may_start_ = false;
};

}  // namespace

std::optional<Finding> judge_window(const Plan&, const Trace& trace) {
  return Fold(trace).run();
}

std::optional<Finding> judge_calm(const Plan& plan, const Trace& trace) {
  constexpr Duration kGivenForIt = 80s;  // 60 s of "pending" are put up with, back-off is 5 s at most
  const bool readable = plan.scenario.j1939 || !plan.scenario.extended_ids;  // else no decoder names the unit
  const TimePoint start = plan.scenario.start;
  if (plan.lying || !readable || plan.calm_from + kGivenForIt >= plan.scenario.lasts) return std::nullopt;
  const TimePoint from = start + plan.calm_from;
  for (auto line = trace.journal.rbegin(); line != trace.journal.rend(); ++line) {
    const JournalText text(*line);
    if (text.at() < from) break;
    if (text.is("reading") && text.text("signal") == "fluid_temperature") {
      if (start + plan.scenario.lasts - text.at() <= plan.scenario.lasts - plan.calm_from - kGivenForIt)
        return std::nullopt;
      break;
    }
  }
  return Finding{"the job goes on", from, "the bus is calm, and the fluid temperature is not read any more"};
}

}  // namespace sumplog::hostile
