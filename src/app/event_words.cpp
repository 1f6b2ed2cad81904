#include "app/event_words.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <ctime>
#include <nlohmann/json.hpp>

#include "core/codes/code_sheet.h"
#include "core/drawing/shown_degrees.h"
#include "core/fluid/sums_text.h"
#include "core/item/json_line.h"
#include "core/item/overloaded.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

std::string two(std::int64_t n) {
  return (n < 10 ? "0" : "") + std::to_string(n);
}

/// "2 h 05 min": for what takes hours nobody needs seconds.
std::string long_ahead(double seconds) {
  const auto minutes = static_cast<std::int64_t>(seconds / 60 + 0.5);
  if (minutes < 60) return std::to_string(minutes) + " min";
  return std::to_string(minutes / 60) + " h " + two(minutes % 60) + " min";
}

/// "15:40" where this machine stands; empty for a table of readings, whose time begins at 0.
std::string time_of_day(TimePoint at) {
  constexpr std::int64_t kFirstDay_s = 86400;
  const std::time_t seconds = micros(at) / 1'000'000;
  std::tm local{};
  if (seconds < kFirstDay_s || localtime_r(&seconds, &local) == nullptr) return {};
  return two(local.tm_hour) + ":" + two(local.tm_min);
}

/// ": litres 4.5, temp 38.0 °C, by K. Example": what a person entered, without what says nothing to another.
std::string fields_text(const EntryEvent& e, bool in_fahrenheit) {
  constexpr std::array<std::string_view, 4> kUntold{"ago_s", "sha256", "file", "replaces"};
  constexpr std::string_view kCelsius = "_c";
  const auto fields = nlohmann::ordered_json::parse(e.fields, nullptr, false);
  std::string text;
  if (!fields.is_object()) return text;
  for (const auto& [key, value] : fields.items()) {
    if (std::find(kUntold.begin(), kUntold.end(), key) != kUntold.end()) continue;
    std::string name = key;
    std::string said;
    if (value.is_string()) {
      said = value.get<std::string>();
    } else if (value.is_number() && key.ends_with(kCelsius)) {
      name = key.substr(0, key.size() - kCelsius.size());
      said = degrees_text(Celsius{value.get<double>()}, in_fahrenheit, 1);
    } else if (value.is_number() || value.is_boolean()) {
      said = value.dump();
    } else {
      continue;
    }
    std::replace(name.begin(), name.end(), '_', ' ');
    text += text.empty() ? ": " : ", ";
    if (key != "text") text += name + " ";
    text += said;
  }
  return text;
}

class Words {
 public:
  explicit Words(bool in_fahrenheit) : fahrenheit_(in_fahrenheit) {}

  [[nodiscard]] std::string vehicle(const VehicleEvent& e) const {
    std::string text = e.ecu.empty() ? "vehicle:" : "unit " + e.ecu + ":";
    if (!e.vin.empty()) text += " VIN " + e.vin;
    if (!e.name.empty()) text += " name " + e.name;
    if (!e.calibration_ids.empty()) text += " calibration " + joined(e.calibration_ids, " ");
    if (!e.cvn.empty()) text += " verification number " + joined(e.cvn, " ");
    if (!e.pids.empty()) text += " " + std::to_string(e.pids.size()) + " parameters supported";
    if (!e.claim.empty()) text += " J1939 name " + e.claim;
    if (!e.state.empty()) text += " " + e.state;
    if (!e.why.empty()) text += ": " + phrase(e.why);
    return text;
  }

  [[nodiscard]] std::string window(const WindowEvent& e) const {
    return "== window: " + std::string(text_of(e.from)) + " -> " + std::string(text_of(e.to)) +
           (e.why.empty() ? "" : " (" + phrase(e.why) + ")");
  }

  [[nodiscard]] std::string check(const CheckEvent& e) const {
    return "-- level check: " + std::string(text_of(e.state)) +
           (e.why.empty() ? "" : ": " + phrase(e.why.front())) +
           (e.why.size() > 1 ? " (+" + std::to_string(e.why.size() - 1) + ")" : "");
  }

  /// "ready about 15:40 (15:10 to 16:30), in 1 h 05 min: …"
  [[nodiscard]] std::string plan(const ForecastEvent& e) const {
    const auto moment = [&](const std::optional<double>& in_s) {
      if (!in_s) return std::string("never");
      const std::string day = time_of_day(e.at + Duration{static_cast<std::int64_t>(*in_s * 1e6)});
      return day.empty() ? "in " + long_ahead(*in_s) : day;
    };
    const auto& [low, likely, high] = e.ready_in_s;
    std::string text = "plan: fluid below " + degrees(e.target_c, 0);
    if (e.coolant_target_c) text += " and coolant below " + degrees(*e.coolant_target_c, 0);
    text += likely ? " about " + moment(likely) : " perhaps never";
    text += " (" + moment(low) + " to " + moment(high) + ")";
    if (likely) text += ", " + long_ahead(*likely) + " from now";
    return text + "; " + phrase(joined(e.assumes, "; "));
  }

  [[nodiscard]] static std::string stage(const StageEvent& e) {
    return "== " + e.stage + " " + std::string(text_of(e.change)) + (e.why.empty() ? "" : ": " + e.why);
  }

  [[nodiscard]] static std::string hold(const HoldEvent& e) {
    std::string text = "selector " + e.position + ": ";
    text += e.held_s ? "held " + fixed(*e.held_s, 1) + " s" : "held";
    if (e.quality == Quality::by_hand) text += " (by hand)";
    if (!e.enough) text += ", too short: " + fixed(e.wanted_s, 0) + " s are asked for";
    return text + (e.cycle_complete ? "; the selector cycle is complete" : "");
  }

  [[nodiscard]] std::string verdict(const VerdictEvent& e) const {
    std::string text = "== level check: conditions ";
    text += e.kept ? "kept" : "not kept: " + phrase(joined(e.why, "; "));
    if (e.temp_out_c && e.temp_in_c)
      text += "; plug out at " + degrees(*e.temp_out_c, 1) + ", in at " + degrees(*e.temp_in_c, 1);
    if (e.level_seen) text += "; level seen: " + e.level_seen->flow;
    return text;
  }

  [[nodiscard]] std::string entry(const EntryEvent& e) const {
    return "entry: " + e.name +
           (e.happened ? ", " + fixed(in_seconds(e.at - *e.happened), 0) + " s ago" : "") +
           fields_text(e, fahrenheit_);
  }

  [[nodiscard]] static std::string codes(const CodesEvent& e) {
    const std::string of = "codes of " + e.ecu + " (" + e.service + "): ";
    if (!e.refused.empty()) return of + e.refused;
    if (!e.codes) return {};
    std::vector<std::string> codes;
    for (const CodeLine& code : *e.codes) codes.push_back(code.code);
    return of + (codes.empty() ? "none told" : joined(codes, " "));
  }

  [[nodiscard]] static std::string scan(const ScanEvent& e) {
    return "== scan " + e.scan + ": " +
           (e.complete ? "complete in the units asked" : "not complete: " + joined(e.why, ", "));
  }

  [[nodiscard]] std::string phrase(const std::string& text) const {
    return degrees_of_phrase(text, fahrenheit_);
  }
  [[nodiscard]] std::string degrees(double celsius, int decimals) const {
    return degrees_text(Celsius{celsius}, fahrenheit_, decimals);
  }

 private:
  bool fahrenheit_;
};

}  // namespace

std::string ahead_words(double seconds) {
  constexpr std::int64_t kCoarse_s = 3600;
  const auto whole = static_cast<std::int64_t>(seconds + 0.5);
  if (whole >= kCoarse_s) return std::to_string(whole / 60) + " min";
  return std::to_string(whole / 60) + ":" + two(whole % 60);
}

std::vector<std::string> EventWords::of(const Event& event) {
  const Words words(fahrenheit_);
  std::vector<std::string> told;
  const auto say = [&](std::string text) {
    if (!text.empty()) told.push_back(without_controls(std::move(text)));
  };
  std::visit(
      Overloaded{
          [&](const VehicleEvent& e) { say(words.vehicle(e)); },
          [&](const ReadingEvent& e) {
            if (e.signal != "fluid_temperature") return;
            if (reads_ && !e.value) say("no fluid temperature: " + words.phrase(e.why));
            reads_ = e.value.has_value();
          },
          [](const ThermalEvent&) {},
          [&](const WindowEvent& e) { say(words.window(e)); },
          [&](const CheckEvent& e) {
            say(words.check(e));
            if (!e.advice.empty() && e.advice != advice_) say("   " + words.phrase(e.advice));
            advice_ = e.advice;
          },
          [&](const CueEvent& e) { say("** " + words.phrase(e.text)); },
          [&](const ForecastEvent& e) { say(words.plan(e)); },
          [&](const StageEvent& e) { say(Words::stage(e)); },
          [&](const HoldEvent& e) { say(Words::hold(e)); },
          [&](const VerdictEvent& e) { say(words.verdict(e)); },
          [&](const BalanceEvent& e) { say(words.phrase(balance_text(e))); },
          [&](const ExchangeEvent& e) { say(words.phrase(exchange_text(e))); },
          [&](const LevelSumsEvent& e) { say(words.phrase(level_text(e))); },
          [&](const EntryEvent& e) { say(words.entry(e)); },
          [&](const GapEvent& e) { say("gap of " + fixed(in_seconds(e.to - e.from), 0) + " s: " + e.why); },
          [&](const ClockEvent& e) {
            say("the computer's clock was set by " + fixed(in_seconds(e.step), 1) +
                " s; the times of this job go on");
          },
          [&](const CodesEvent& e) { say(Words::codes(e)); },
          [&](const ScanEvent& e) { say(Words::scan(e)); },
          [&](const ComparedEvent& e) {
            for (const std::string& text : text_of(e)) say("codes after the work: " + text);
          },
          [&](const LossEvent& e) { say("lost" + (e.ecu.empty() ? "" : " from " + e.ecu) + ": " + e.why); },
      },
      event);
  return told;
}

}  // namespace sumplog
