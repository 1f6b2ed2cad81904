#include "core/journal/event_reader.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

namespace sumplog {
namespace {

using Json = nlohmann::ordered_json;  // fields of an entry keep their order

constexpr double kMicrosInSecond = 1e6;
constexpr double kLongest_s = 1e12;  // beyond it a time is no time of a job

/// One object of the journal, asked key by key.
class Fields {
 public:
  explicit Fields(const Json& object) : object_(object) {}

  [[nodiscard]] const Json* find(const char* key) const {
    const auto found = object_.find(key);
    return found == object_.end() ? nullptr : &*found;
  }
  [[nodiscard]] std::string text(const char* key) const {
    const Json* const value = find(key);
    return value && value->is_string() ? value->get<std::string>() : std::string();
  }
  [[nodiscard]] std::optional<double> number(const char* key) const {
    const Json* const value = find(key);
    if (!value || !value->is_number()) return std::nullopt;
    return value->get<double>();
  }
  [[nodiscard]] double number_or_0(const char* key) const { return number(key).value_or(0); }
  [[nodiscard]] std::optional<bool> flag(const char* key) const {
    const Json* const value = find(key);
    if (!value || !value->is_boolean()) return std::nullopt;
    return value->get<bool>();
  }
  [[nodiscard]] std::uint64_t count(const char* key) const {
    const Json* const value = find(key);
    return value && value->is_number_unsigned() ? value->get<std::uint64_t>() : 0;
  }
  [[nodiscard]] std::vector<std::string> texts(const char* key) const {
    std::vector<std::string> found;
    if (const Json* const list = find(key); list && list->is_array())
      for (const Json& one : *list)
        if (one.is_string()) found.push_back(one.get<std::string>());
    return found;
  }
  [[nodiscard]] std::optional<Duration> span(const char* key) const {
    const auto seconds = number(key);
    if (!seconds || std::abs(*seconds) > kLongest_s) return std::nullopt;
    return Duration{std::llround(*seconds * kMicrosInSecond)};
  }
  [[nodiscard]] std::optional<TimePoint> moment(const char* key) const {
    const auto since = span(key);
    if (!since) return std::nullopt;
    return TimePoint{*since};
  }
  [[nodiscard]] TimePoint time(const char* key) const { return moment(key).value_or(TimePoint{}); }
  [[nodiscard]] BusName bus() const { return BusName(text("bus")); }
  /// [low, likely, high]; null is never.
  [[nodiscard]] std::optional<Quantiles> quantiles(const char* key) const {
    const Json* const list = find(key);
    Quantiles found;
    if (!list || !list->is_array() || list->size() != found.size()) return std::nullopt;
    for (std::size_t i = 0; i < found.size(); ++i)
      if ((*list)[i].is_number()) found[i] = (*list)[i].get<double>();
    return found;
  }
  /// What `make` makes of each object of a list.
  template <class Make>
  [[nodiscard]] auto list(const char* key, Make make) const {
    std::vector<decltype(make(*this))> found;
    if (const Json* const all = find(key); all && all->is_array())
      for (const Json& one : *all)
        if (one.is_object()) found.push_back(make(Fields(one)));
    return found;
  }

 private:
  const Json& object_;
};

template <class Word, std::size_t n>
Word word_of(const std::string& text, const std::array<Word, n>& all, Word otherwise) {
  for (const Word one : all)
    if (text_of(one) == text) return one;
  return otherwise;
}
WindowState window_state(const std::string& text) {
  using enum WindowState;
  return word_of(text, std::array{below, inside, above}, unknown);
}
CheckState check_state(const std::string& text) {
  using enum CheckState;
  return word_of(text, std::array{not_yet, may_start, stop}, unknown);
}
Quality quality_of(const std::string& text) {
  return word_of(text, std::array{Quality::measured, Quality::by_hand}, Quality::suspect);
}

/// Digits behind the point of the n-th "value":12.50 of a line: a number that was parsed does not tell them. No text can look like
/// that key: its quotes would be escaped.
int decimals_of_value(std::string_view line, std::size_t n) {
  constexpr std::string_view kKey = "\"value\":";
  std::size_t found = line.find(kKey);
  for (; n > 0 && found != std::string_view::npos; --n) found = line.find(kKey, found + kKey.size());
  if (found == std::string_view::npos) return 0;
  const std::string_view rest = line.substr(found + kKey.size());
  const std::string_view number = rest.substr(0, rest.find_first_not_of("-.0123456789"));
  const std::size_t point = number.find('.');
  return point == std::string_view::npos ? 0 : static_cast<int>(number.size() - point - 1);
}

ReadingEvent reading_of(const Fields& f) {
  ReadingEvent e;
  e.at = f.time("t");
  e.bus = f.bus();
  e.signal = f.text("signal");
  e.value = f.number("value");
  e.unit = f.text("unit");
  e.label = f.text("label");
  e.ecu = f.text("ecu");
  e.quality = quality_of(f.text("quality"));
  e.why = f.text("why");
  return e;
}

VehicleEvent vehicle_of(const Fields& f) {
  return {f.time("t"),
          f.bus(),
          f.text("ecu"),
          f.text("vin"),
          f.flag("vin_check_digit"),
          f.texts("calibration_ids"),
          f.texts("cvn"),
          f.text("name"),
          f.texts("pids"),
          f.text("claim"),
          f.text("state"),
          f.text("why")};
}

ThermalEvent thermal_of(const Fields& f) {
  ThermalEvent e{f.time("t"),
                 f.number("temp_c"),
                 f.number("rate_c_per_min"),
                 f.number("rate_low"),
                 f.number("rate_high"),
                 f.flag("estimate_inside"),
                 window_state(f.text("window")),
                 f.text("why"),
                 f.quantiles("enter_in_s"),
                 f.quantiles("stay_s"),
                 std::nullopt,
                 f.texts("flags")};
  if (f.find("announce_in_s")) e.announce_in_s = f.number("announce_in_s");
  e.by_hand = quality_of(f.text("quality")) == Quality::by_hand;
  return e;
}

EntryEvent entry_of(const Fields& f) {
  const Json* const fields = f.find("fields");
  return {f.time("t"), f.text("id"), f.text("name"), fields && fields->is_object() ? fields->dump() : "{}",
          f.moment("happened_t")};
}

StageEvent stage_of(const Fields& f) {
  using enum StageChange;
  return {f.time("t"), f.text("stage"), word_of(f.text("change"), std::array{ended, skipped}, begun),
          f.text("why"), f.moment("happened_t")};
}

HoldEvent hold_of(const Fields& f) {
  return {f.time("t"),
          f.text("position"),
          f.number("held_s"),
          f.number_or_0("wanted_s"),
          f.flag("enough").value_or(false),
          quality_of(f.text("quality")),
          f.flag("cycle_complete").value_or(false)};
}

LevelSeen seen_of(const Fields& f) {
  return {f.text("flow"), f.number("ml_in_10_s"), f.text("by"), f.text("criterion"), f.flag("reached")};
}

VerdictEvent verdict_of(const Fields& f) {
  VerdictEvent e;
  e.at = f.time("t");
  e.kept = f.text("conditions") == "kept";
  e.thermometer = quality_of(f.text("thermometer"));
  e.why = f.texts("why");
  e.out = f.time("out_t");
  e.in = f.time("in_t");
  e.by_hand = f.texts("by_hand");
  e.temp_out_c = f.number("temp_out_c");
  e.temp_decision_c = f.number("temp_decision_c");
  e.temp_in_c = f.number("temp_in_c");
  e.temp_low_c = f.number("temp_low_c");
  e.temp_high_c = f.number("temp_high_c");
  e.rate_c_per_min = f.number("rate_c_per_min");
  e.engine_rpm = f.number("engine_rpm");
  e.inside_for_s = f.number_or_0("inside_for_s");
  if (const Json* const seen = f.find("level_seen"); seen && seen->is_object())
    e.level_seen = seen_of(Fields(*seen));
  e.origin = f.text("origin");
  return e;
}

BalanceEvent balance_of(const Fields& f) {
  return {f.time("t"),
          f.number_or_0("reference_c"),
          f.number_or_0("density_kg_per_m3"),
          f.number_or_0("out_l"),
          f.number_or_0("in_l"),
          f.list("parts",
                 [](const Fields& p) {
                   return BalanceEvent::Part{p.text("part"), p.number_or_0("out_l"), p.number_or_0("in_l")};
                 }),
          f.number("to_refill_l"),
          f.number("fresh_c"),
          f.number("exchange_ahead_l"),
          f.text("exchange_state"),
          f.texts("assumes")};
}

ExchangeEvent exchange_of(const Fields& f) {
  return {f.time("t"),
          f.number_or_0("fill_l"),
          f.number_or_0("dead_l"),
          f.number_or_0("drained_share"),
          f.list("steps",
                 [](const Fields& s) {
                   return ExchangeEvent::Step{s.number_or_0("through_l"), s.number_or_0("new_mixed"),
                                              s.number_or_0("new_ideal")};
                 }),
          f.number("wanted_share"),
          f.number("more_mixed_l"),
          f.number("more_ideal_l"),
          f.texts("assumes")};
}

LevelSumsEvent level_sums_of(const Fields& f) {
  LevelSumsEvent e{f.time("t"),
                   f.number_or_0("plug_in_c"),
                   f.number_or_0("edge_c"),
                   f.number_or_0("fill_l"),
                   f.number_or_0("ml_per_c"),
                   {},
                   f.texts("assumes")};
  if (const auto ml = f.quantiles("short_ml"))
    std::transform(ml->begin(), ml->end(), e.short_ml.begin(), [](auto one) { return one.value_or(0); });
  return e;
}

std::optional<Event> sums_of(const Fields& f) {
  const std::string of = f.text("of");
  if (of == "balance") return balance_of(f);
  if (of == "exchange") return exchange_of(f);
  if (of == "level") return level_sums_of(f);
  return std::nullopt;
}

CodeLine code_of(const Fields& f) {
  return {f.text("code"), f.texts("status"), f.text("raw"), f.text("text"), f.text("class"), f.text("why")};
}

CodesEvent codes_of(const Fields& f, std::string_view line) {
  CodesEvent e;
  e.at = f.time("t");
  e.bus = f.bus();
  e.scan = f.text("scan");
  e.ecu = f.text("ecu");
  e.service = f.text("service");
  if (f.find("codes")) e.codes = f.list("codes", code_of);
  e.code = f.text("code");
  e.frozen = f.list("freeze_frame", reading_of);
  std::size_t values = 0;
  for (ReadingEvent& one : e.frozen)
    if (one.value) one.decimals = decimals_of_value(line, values++);
  e.record = f.text("record");
  if (f.find("monitors"))
    e.monitors =
        MonitorStatus{f.flag("warning_lamp").value_or(false), static_cast<int>(f.count("stored")),
                      f.list("monitors", [](const Fields& m) {
                        return MonitorStatus::Monitor{m.text("name"), m.flag("complete").value_or(false)};
                      })};
  e.lamps = f.texts("lamps");
  e.refused = f.text("refused");
  return e;
}

ScanEvent scan_of(const Fields& f) {
  return {f.time("t"),          f.bus(),
          f.text("scan"),       f.texts("asked"),
          f.texts("answered"),  f.texts("silent"),
          f.texts("not_asked"), f.flag("complete").value_or(false),
          f.texts("why"),       f.number("supply_low_v")};
}

ComparedEvent compared_of(const Fields& f) {
  using enum CodeChange;
  constexpr std::array kChanges{status_changed, gone, appeared, silent_now, silent_before};
  const auto line = [&](const Fields& one) {
    return ComparedEvent::Line{one.text("ecu"), one.text("code"), word_of(one.text("change"), kChanges, same),
                               one.texts("before"), one.texts("after")};
  };
  return {f.time("t"), f.list("codes", line), f.flag("complete").value_or(false), f.texts("cleared")};
}

}  // namespace

std::optional<Event> event_of(std::string_view line) {
  const Json parsed = Json::parse(line, nullptr, false);
  if (!parsed.is_object()) return std::nullopt;
  const Fields f(parsed);
  const std::string kind = f.text("kind");
  if (kind == "vehicle") return vehicle_of(f);
  if (kind == "reading") {
    ReadingEvent e = reading_of(f);
    e.decimals = decimals_of_value(line, 0);
    return e;
  }
  if (kind == "thermal") return thermal_of(f);
  if (kind == "window")
    return WindowEvent{f.time("t"), window_state(f.text("from")), window_state(f.text("to")),
                       f.number("temp_c"), f.text("why")};
  if (kind == "check")
    return CheckEvent{f.time("t"), check_state(f.text("state")), f.texts("why"), f.text("advice")};
  if (kind == "cue") return CueEvent{f.time("t"), f.text("name"), f.text("text")};
  if (kind == "entry") return entry_of(f);
  if (kind == "forecast")
    return ForecastEvent{f.time("t"),
                         f.number_or_0("target_c"),
                         f.number("coolant_target_c"),
                         f.quantiles("ready_in_s").value_or(Quantiles{}),
                         f.count("samples"),
                         f.texts("assumes")};
  if (kind == "stage") return stage_of(f);
  if (kind == "hold") return hold_of(f);
  if (kind == "verdict") return verdict_of(f);
  if (kind == "sums") return sums_of(f);
  if (kind == "gap") return GapEvent{f.time("t"), f.bus(), f.time("from_t"), f.time("to_t"), f.text("why")};
  if (kind == "clock") return ClockEvent{f.time("t"), f.span("step_s").value_or(Duration{})};
  if (kind == "loss") return LossEvent{f.time("t"), f.bus(), f.text("ecu"), f.text("why"), f.count("frames")};
  if (kind == "codes" && f.find("complete")) return scan_of(f);
  if (kind == "codes") return codes_of(f, line);
  if (kind == "compared") return compared_of(f);
  return std::nullopt;
}

}  // namespace sumplog
