#include "core/item/json_line.h"
#include "core/item/utf8.h"
#include "core/journal/event.h"

namespace sumplog {
namespace {

// Digits behind the point: temperatures and rates to a hundredth, times ahead to a tenth of a second.
constexpr int kTemperatureDecimals = 2;
constexpr int kRateDecimals = 2;
constexpr int kAheadDecimals = 1;
constexpr int kLitreDecimals = 2;
constexpr int kMillilitreDecimals = 1;
constexpr int kVoltDecimals = 2;
constexpr int kExactLitreDecimals = 3;
constexpr int kShareDecimals = 3;
constexpr int kSpeedDecimals = 0;
constexpr int kDensityDecimals = 1;

/// What is no UTF-8 in a foreign name becomes '?': as long as it was, so that the line reads back as the same name.
std::string readable(std::string_view name) {
  std::string text;
  for (std::size_t i = 0; i < name.size();) {
    const std::size_t length = utf8_length(name, i);
    text += length == 0 ? "?" : name.substr(i, length);
    i += length == 0 ? 1 : length;
  }
  return text;
}

JsonLine begin(TimePoint at, std::string_view kind, BusName bus = {}) {
  JsonLine line;
  line.time("t", at).text("kind", kind);
  if (!bus.empty()) line.text("bus", readable(bus.text()));
  return line;
}

void text_if(JsonLine& line, std::string_view key, std::string_view value) {
  if (!value.empty()) line.text(key, value);
}
void texts_if(JsonLine& line, std::string_view key, const std::vector<std::string>& values) {
  if (!values.empty()) line.texts(key, values);
}
void number_if(JsonLine& line, std::string_view key, std::optional<double> value, int decimals) {
  if (value) line.number(key, *value, decimals);
}

std::string seconds_or_never(const std::optional<double>& seconds) {
  return seconds ? fixed(*seconds, kAheadDecimals) : "null";
}

void quantiles_if(JsonLine& line, std::string_view key, const std::optional<Quantiles>& q) {
  if (!q) return;
  line.raw(key, json_array(*q, seconds_or_never));
}

std::string object(const CodeLine& code) {
  JsonLine line;
  line.text("code", code.code);
  texts_if(line, "status", code.status);
  line.text("raw", code.raw);
  text_if(line, "text", code.text);
  text_if(line, "class", code.code_class);
  text_if(line, "why", code.why);
  return line.take();
}
std::string object(const ReadingEvent& value) {
  JsonLine line;
  line.text("signal", value.signal);
  number_if(line, "value", value.value, value.decimals);
  text_if(line, "unit", value.unit);
  text_if(line, "why", value.why);
  return line.take();
}
std::string object(const MonitorStatus::Monitor& monitor) {
  return JsonLine().text("name", monitor.name).flag("complete", monitor.complete).take();
}
std::string object(const ComparedEvent::Line& one) {
  JsonLine line;
  line.text("ecu", one.ecu);
  text_if(line, "code", one.code);
  line.text("change", text_of(one.change));
  texts_if(line, "before", one.before);
  texts_if(line, "after", one.after);
  return line.take();
}
std::string object(const LevelSeen& seen) {
  JsonLine line;
  text_if(line, "flow", seen.flow);
  number_if(line, "ml_in_10_s", seen.ml_in_10_s, kMillilitreDecimals);
  text_if(line, "by", seen.by);
  text_if(line, "criterion", seen.criterion);
  if (seen.reached) line.flag("reached", *seen.reached);
  return line.take();
}
std::string object(const BalanceEvent::Part& part) {
  return JsonLine()
      .text("part", part.part)
      .number("out_l", part.out_l, kExactLitreDecimals)
      .number("in_l", part.in_l, kExactLitreDecimals)
      .take();
}
std::string object(const ExchangeEvent::Step& step) {
  return JsonLine()
      .number("through_l", step.through_l, kLitreDecimals)
      .number("new_mixed", step.new_mixed, kShareDecimals)
      .number("new_ideal", step.new_ideal, kShareDecimals)
      .take();
}
template <class T>
std::string list(const std::vector<T>& items) {
  return json_array(items, [](const T& item) { return object(item); });
}

struct EventText {
  std::string operator()(const VehicleEvent& e) const {
    JsonLine line = begin(e.at, "vehicle", e.bus);
    text_if(line, "ecu", e.ecu);
    text_if(line, "vin", e.vin);
    if (e.vin_check_digit) line.flag("vin_check_digit", *e.vin_check_digit);
    texts_if(line, "calibration_ids", e.calibration_ids);
    texts_if(line, "cvn", e.cvn);
    text_if(line, "name", e.name);
    texts_if(line, "pids", e.pids);
    text_if(line, "claim", e.claim);
    text_if(line, "state", e.state);
    text_if(line, "why", e.why);
    return line.take();
  }
  std::string operator()(const ReadingEvent& e) const {
    JsonLine line = begin(e.at, "reading", e.bus);
    line.text("signal", e.signal);
    number_if(line, "value", e.value, e.decimals);
    text_if(line, "label", e.label);
    text_if(line, "unit", e.unit);
    text_if(line, "ecu", e.ecu);
    line.text("quality", text_of(e.quality));
    text_if(line, "why", e.why);
    return line.take();
  }
  std::string operator()(const ThermalEvent& e) const {
    JsonLine line = begin(e.at, "thermal");
    number_if(line, "temp_c", e.temp_c, kTemperatureDecimals);
    number_if(line, "rate_c_per_min", e.rate_c_per_min, kRateDecimals);
    number_if(line, "rate_low", e.rate_low, kRateDecimals);
    number_if(line, "rate_high", e.rate_high, kRateDecimals);
    if (e.estimate_inside) line.flag("estimate_inside", *e.estimate_inside);
    line.text("window", text_of(e.window));
    text_if(line, "why", e.why);
    if (e.by_hand) line.text("quality", text_of(Quality::by_hand));
    quantiles_if(line, "enter_in_s", e.enter_in_s);
    quantiles_if(line, "stay_s", e.stay_s);
    if (e.announce_in_s) line.raw("announce_in_s", seconds_or_never(*e.announce_in_s));
    texts_if(line, "flags", e.flags);
    return line.take();
  }
  std::string operator()(const WindowEvent& e) const {
    JsonLine line = begin(e.at, "window");
    line.text("from", text_of(e.from)).text("to", text_of(e.to));
    number_if(line, "temp_c", e.temp_c, kTemperatureDecimals);
    text_if(line, "why", e.why);
    return line.take();
  }
  std::string operator()(const CheckEvent& e) const {
    JsonLine line = begin(e.at, "check");
    line.text("state", text_of(e.state));
    texts_if(line, "why", e.why);
    text_if(line, "advice", e.advice);
    return line.take();
  }
  std::string operator()(const CueEvent& e) const {
    return begin(e.at, "cue").text("name", e.name).text("text", e.text).take();
  }
  std::string operator()(const EntryEvent& e) const {
    JsonLine line = begin(e.at, "entry");
    line.text("id", e.id).text("name", e.name).raw("fields", e.fields);
    if (e.happened) line.time("happened_t", *e.happened).text("time", "by hand");
    return line.take();
  }
  std::string operator()(const ForecastEvent& e) const {
    JsonLine line = begin(e.at, "forecast");
    line.number("target_c", e.target_c, kTemperatureDecimals);
    number_if(line, "coolant_target_c", e.coolant_target_c, kTemperatureDecimals);
    quantiles_if(line, "ready_in_s", e.ready_in_s);
    line.integer("samples", static_cast<std::int64_t>(e.samples));
    texts_if(line, "assumes", e.assumes);
    return line.take();
  }
  std::string operator()(const StageEvent& e) const {
    JsonLine line = begin(e.at, "stage");
    line.text("stage", e.stage).text("change", text_of(e.change));
    text_if(line, "why", e.why);
    if (e.happened) line.time("happened_t", *e.happened).text("time", "by hand");
    return line.take();
  }
  std::string operator()(const HoldEvent& e) const {
    JsonLine line = begin(e.at, "hold");
    line.text("position", e.position);
    number_if(line, "held_s", e.held_s, kAheadDecimals);
    line.number("wanted_s", e.wanted_s, kAheadDecimals).flag("enough", e.enough);
    return line.text("quality", text_of(e.quality)).flag("cycle_complete", e.cycle_complete).take();
  }
  std::string operator()(const VerdictEvent& e) const {
    JsonLine line = begin(e.at, "verdict");
    line.text("conditions", e.kept ? "kept" : "not kept").text("thermometer", text_of(e.thermometer));
    texts_if(line, "why", e.why);
    line.time("out_t", e.out).time("in_t", e.in);
    texts_if(line, "by_hand", e.by_hand);
    number_if(line, "temp_out_c", e.temp_out_c, kTemperatureDecimals);
    number_if(line, "temp_decision_c", e.temp_decision_c, kTemperatureDecimals);
    number_if(line, "temp_in_c", e.temp_in_c, kTemperatureDecimals);
    number_if(line, "temp_low_c", e.temp_low_c, kTemperatureDecimals);
    number_if(line, "temp_high_c", e.temp_high_c, kTemperatureDecimals);
    number_if(line, "rate_c_per_min", e.rate_c_per_min, kRateDecimals);
    number_if(line, "engine_rpm", e.engine_rpm, kSpeedDecimals);
    line.number("inside_for_s", e.inside_for_s, kAheadDecimals);
    if (e.level_seen) line.raw("level_seen", object(*e.level_seen));
    text_if(line, "origin", e.origin);
    return line.take();
  }
  std::string operator()(const BalanceEvent& e) const {
    JsonLine line = begin(e.at, "sums");
    line.text("of", "balance").number("reference_c", e.reference_c, kTemperatureDecimals);
    line.number("density_kg_per_m3", e.density_kg_per_m3, kDensityDecimals);
    line.number("out_l", e.out_l, kExactLitreDecimals).number("in_l", e.in_l, kExactLitreDecimals);
    line.raw("parts", list(e.parts));
    number_if(line, "to_refill_l", e.to_refill_l, kExactLitreDecimals);
    number_if(line, "fresh_c", e.fresh_c, kTemperatureDecimals);
    number_if(line, "exchange_ahead_l", e.exchange_ahead_l, kExactLitreDecimals);
    text_if(line, "exchange_state", e.exchange_state);
    texts_if(line, "assumes", e.assumes);
    return line.take();
  }
  std::string operator()(const ExchangeEvent& e) const {
    JsonLine line = begin(e.at, "sums");
    line.text("of", "exchange").number("fill_l", e.fill_l, kLitreDecimals);
    line.number("dead_l", e.dead_l, kLitreDecimals).number("drained_share", e.drained_share, kShareDecimals);
    line.raw("steps", list(e.steps));
    number_if(line, "wanted_share", e.wanted_share, kShareDecimals);
    number_if(line, "more_mixed_l", e.more_mixed_l, kLitreDecimals);
    number_if(line, "more_ideal_l", e.more_ideal_l, kLitreDecimals);
    texts_if(line, "assumes", e.assumes);
    return line.take();
  }
  std::string operator()(const LevelSumsEvent& e) const {
    JsonLine line = begin(e.at, "sums");
    line.text("of", "level");
    line.number("plug_in_c", e.plug_in_c, kTemperatureDecimals)
        .number("edge_c", e.edge_c, kTemperatureDecimals);
    line.number("fill_l", e.fill_l, kLitreDecimals).number("ml_per_c", e.ml_per_c, kMillilitreDecimals);
    line.raw("short_ml", json_array(e.short_ml, [](double ml) { return fixed(ml, kMillilitreDecimals); }));
    texts_if(line, "assumes", e.assumes);
    return line.take();
  }
  std::string operator()(const GapEvent& e) const {
    return begin(e.at, "gap", e.bus).time("from_t", e.from).time("to_t", e.to).text("why", e.why).take();
  }
  std::string operator()(const ClockEvent& e) const {
    return begin(e.at, "clock").duration("step_s", e.step).take();
  }
  std::string operator()(const LossEvent& e) const {
    JsonLine line = begin(e.at, "loss", e.bus);
    text_if(line, "ecu", e.ecu);
    return line.text("why", e.why).integer("frames", static_cast<std::int64_t>(e.frames)).take();
  }
  std::string operator()(const CodesEvent& e) const {
    JsonLine line = begin(e.at, "codes", e.bus);
    text_if(line, "scan", e.scan);
    line.text("ecu", e.ecu).text("service", e.service);
    if (e.codes) line.raw("codes", list(*e.codes));
    text_if(line, "code", e.code);
    if (!e.frozen.empty()) line.raw("freeze_frame", list(e.frozen));
    text_if(line, "record", e.record);
    if (e.monitors) {
      line.flag("warning_lamp", e.monitors->warning_lamp).integer("stored", e.monitors->stored);
      line.raw("monitors", list(e.monitors->monitors));
    }
    texts_if(line, "lamps", e.lamps);
    text_if(line, "refused", e.refused);
    return line.take();
  }
  std::string operator()(const ScanEvent& e) const {
    JsonLine line = begin(e.at, "codes", e.bus);
    line.text("scan", e.scan).texts("asked", e.asked).texts("answered", e.answered);
    line.texts("silent", e.silent).texts("not_asked", e.not_asked).flag("complete", e.complete);
    texts_if(line, "why", e.why);
    number_if(line, "supply_low_v", e.supply_low_v, kVoltDecimals);
    return line.take();
  }
  std::string operator()(const ComparedEvent& e) const {
    JsonLine line = begin(e.at, "compared");
    line.raw("codes", list(e.lines)).flag("complete", e.complete);
    texts_if(line, "cleared", e.cleared);
    return line.take();
  }
};

}  // namespace

std::string journal_line(const Event& event) {
  return std::visit(EventText{}, event);
}

std::string_view text_of(WindowState state) {
  switch (state) {
    case WindowState::unknown: return "unknown";
    case WindowState::below: return "below";
    case WindowState::inside: return "inside";
    case WindowState::above: return "above";
  }
  return "unknown";
}

std::string_view text_of(CheckState state) {
  switch (state) {
    case CheckState::unknown: return "unknown";
    case CheckState::not_yet: return "not yet";
    case CheckState::may_start: return "may start";
    case CheckState::stop: return "stop";
  }
  return "unknown";
}

std::string_view text_of(StageChange change) {
  switch (change) {
    case StageChange::begun: return "begun";
    case StageChange::ended: return "ended";
    case StageChange::skipped: return "skipped";
  }
  return "begun";
}

std::string_view text_of(CodeChange change) {
  switch (change) {
    case CodeChange::same: return "same";
    case CodeChange::status_changed: return "status changed";
    case CodeChange::gone: return "gone";
    case CodeChange::appeared: return "new";
    case CodeChange::silent_now: return "unit silent now";
    case CodeChange::silent_before: return "unit silent before";
  }
  return "same";
}

std::string_view text_of(Quality quality) {
  switch (quality) {
    case Quality::measured: return "measured";
    case Quality::by_hand: return "by hand";
    case Quality::suspect: return "suspect";
  }
  return "suspect";
}

}  // namespace sumplog
