#include "core/decoder/service_file.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "core/decoder/file_head.h"
#include "core/decoder/origin_keys.h"
#include "core/decoder/toml_table.h"

namespace sumplog {
namespace {

// Ranges that catch a slip (°F for °C, minutes for seconds); own choice, wider than any procedure known to
// us.
constexpr double kColdestC = -40;
constexpr double kHottestC = 150;
/// No level check is made hotter; a window of 35…45 °C or 30…50 °C that was written in °F ends above.
constexpr double kHottestCheckC = 110;
constexpr double kLongestSeconds = 86400;
constexpr double kFastestCPerMinute = 60;
constexpr double kFastestRpm = 10000;
constexpr double kMostLitres = 100;
constexpr double kLeastDensity = 800;  // API MPMS 11.1, lubricating oils, kg/m³
constexpr double kMostDensity = 1164;
constexpr double kMicrosPerSecond = 1e6;
/// Longest name of a selector position: "D", "M3".
constexpr std::size_t kLongestPosition = 3;

constexpr std::array kTopKeys = std::to_array<std::string_view>({"format",         "id",
                                                                 "title",          "window",
                                                                 "decision_point", "start_limit",
                                                                 "abort_limit",    "settling_time",
                                                                 "engine",         "selector",
                                                                 "vehicle",        "idle",
                                                                 "selector_cycle", "codes_read",
                                                                 "minimum_stay",   "rate_limit",
                                                                 "fill",           "drain_share",
                                                                 "dead_volume",    "imbalance",
                                                                 "bypass",         "coolant_limit",
                                                                 "criterion",      "by_hand",
                                                                 "cautions",       "advice_below",
                                                                 "advice_above",   "density"});

/// Reads the tables of the file; each kind of figure once.
class ServiceReader {
 public:
  explicit ServiceReader(const TomlTable& top) : top_(top) {}

  std::optional<Sourced<Celsius>> temperature(std::string_view name, std::string_view key,
                                              double hottest_c) const {
    return figure<Celsius>(
        name, {key}, [&](const TomlTable& t) { return Celsius{t.need_number(key, kColdestC, hottest_c)}; });
  }
  std::optional<Sourced<Duration>> time(std::string_view name) const {
    return figure<Duration>(name, {"s"}, [](const TomlTable& t) { return seconds(t, "s"); });
  }
  std::optional<Sourced<double>> litres(std::string_view name) const {
    return figure<double>(name, {"l"}, [](const TomlTable& t) { return t.need_number("l", 0, kMostLitres); });
  }
  std::optional<Sourced<std::string>> advice(std::string_view name) const {
    return figure<std::string>(name, {"text"}, [](const TomlTable& t) { return t.need_text("text"); });
  }
  template <class T>
  std::optional<Sourced<T>> choice(std::string_view name, std::string_view key,
                                   std::span<const std::string_view> words, std::span<const T> values) const {
    return figure<T>(name, {key}, [&](const TomlTable& t) {
      t.need(key, "known: " + list_text(words));
      return values[t.word(key, words).value_or(0)];
    });
  }
  /// One table: its own keys, `origin` and `origin_note`.
  template <class T, class Read>
  std::optional<Sourced<T>> figure(std::string_view name, std::vector<std::string_view> keys,
                                   Read read) const {
    const std::optional<TomlTable> table = top_.table(name);
    if (!table) return std::nullopt;
    keys.insert(keys.end(), {"origin", "origin_note"});
    table->allow_only(keys);
    Sourced<T> out;
    out.line = table->line();
    out.value = read(*table);
    const OriginKeys origin = read_origin(*table);
    out.origin = origin.origin;
    out.note = origin.note;
    return out;
  }
  static Duration seconds(const TomlTable& table, std::string_view key) {
    return Duration{std::llround(table.need_number(key, 0, kLongestSeconds) * kMicrosPerSecond)};
  }

 private:
  const TomlTable& top_;
};

TemperatureWindow read_window(const TomlTable& table) {
  TemperatureWindow out{Celsius{table.need_number("low_c", kColdestC, kHottestCheckC)},
                        Celsius{table.need_number("high_c", kColdestC, kHottestCheckC)}};
  if (!(out.low < out.high)) {
    table.mistake(table.line_of("low_c"), "'low_c' " + number_text(out.low.value) +
                                              " is not below 'high_c' " + number_text(out.high.value));
  }
  return out;
}

IdleBand read_idle(const TomlTable& table) {
  IdleBand out{table.need_number("low_rpm", 0, kFastestRpm), table.need_number("high_rpm", 0, kFastestRpm)};
  if (!(out.low_rpm < out.high_rpm)) {
    table.mistake(table.line_of("low_rpm"), "'low_rpm' " + number_text(out.low_rpm) +
                                                " is not below 'high_rpm' " + number_text(out.high_rpm));
  }
  return out;
}

ImbalanceLimits read_imbalance(const TomlTable& table) {
  ImbalanceLimits out{table.need_number("stop_l", 0, kMostLitres),
                      table.need_number("abort_l", 0, kMostLitres)};
  if (!(out.stop_l < out.abort_l)) {
    table.mistake(table.line_of("stop_l"), "'stop_l' " + number_text(out.stop_l) +
                                               " is not below 'abort_l' " + number_text(out.abort_l));
  }
  return out;
}

/// A position is compared with the labels of the decoder: capital letters and digits, as on the selector.
void check_position(const TomlTable& table, int line, const std::string& position) {
  const bool fits = !position.empty() && position.size() <= kLongestPosition &&
                    position.find_first_not_of("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") == std::string::npos;
  if (!fits)
    table.mistake(line, "'" + position + "' is no selector position",
                  "write it as on the selector: P, R, N, D, …");
}

std::vector<std::string> read_positions(const TomlTable& table) {
  table.need("positions");
  std::vector<std::string> out = table.texts("positions");
  for (const std::string& position : out) check_position(table, table.line_of("positions"), position);
  return out;
}

std::vector<SelectorHold> read_cycle(const TomlTable& table) {
  constexpr std::array kHoldKeys = std::to_array<std::string_view>({"position", "s"});
  table.need("holds", "the positions in their order: [ { position = \"P\", s = 3 }, … ]");
  std::vector<SelectorHold> out;
  for (const TomlTable& one : table.tables("holds")) {
    one.allow_only(kHoldKeys);
    SelectorHold hold{one.need_text("position"), ServiceReader::seconds(one, "s")};
    if (!one.mistakes().any()) check_position(one, one.line_of("position"), hold.position);
    out.push_back(std::move(hold));
  }
  if (out.empty()) table.mistake(table.line_of("holds"), "'holds' is an empty list");
  return out;
}

std::vector<std::string> read_cautions(const TomlTable& table) {
  table.need("texts");
  return table.texts("texts");
}

std::vector<std::string> read_conditions(const TomlTable& table) {
  table.need("conditions");
  return table.texts("conditions");
}

void must_be_positive(const TomlTable& top, std::string_view name, std::string_view key,
                      const std::optional<Sourced<double>>& figure) {
  if (figure && !(figure->value > 0)) {
    top.mistake(figure->line, "'" + std::string{key} + "' of [" + std::string{name} + "] must be above 0");
  }
}

std::string degrees(Celsius t) {
  return number_text(t.value) + " °C";
}

/// What one figure says about another.
void hold_together(const TomlTable& top, const ServiceFile& file) {
  if (file.window) {
    const TemperatureWindow& window = file.window->value;
    const std::string ends = number_text(window.low.value) + "…" + degrees(window.high);
    if (file.decision_point &&
        (file.decision_point->value <= window.low || file.decision_point->value >= window.high)) {
      top.mistake(file.decision_point->line, "the decision point " + degrees(file.decision_point->value) +
                                                 " is not inside the window " + ends);
    }
    if (file.start_limit && file.start_limit->value > window.high) {
      top.mistake(file.start_limit->line,
                  "the start limit " + degrees(file.start_limit->value) + " is above the window " + ends);
    }
    if (file.abort_limit && file.abort_limit->value <= window.low) {
      top.mistake(file.abort_limit->line, "the abort limit " + degrees(file.abort_limit->value) +
                                              " is not above the start of the window " + ends);
    }
  }
  if (file.start_limit && file.abort_limit && file.start_limit->value >= file.abort_limit->value) {
    top.mistake(file.start_limit->line, "the start limit " + degrees(file.start_limit->value) +
                                            " is not below the abort limit " +
                                            degrees(file.abort_limit->value));
  }
  if (file.idle && file.engine && file.engine->value == EngineState::stopped) {
    top.mistake(file.idle->line, "[idle] asks for a running engine, [engine] for a stopped one");
  }
  if (file.dead_volume_l && file.fill_l && file.dead_volume_l->value >= file.fill_l->value) {
    top.mistake(file.dead_volume_l->line, "the dead volume " + number_text(file.dead_volume_l->value) +
                                              " L is not below the fill quantity " +
                                              number_text(file.fill_l->value) + " L");
  }
}

}  // namespace

Result<ServiceFile> parse_service_file(std::string_view text, const std::string& name) {
  const Result<TomlValue> root = parse_toml(text, name);
  if (!root) return tl::unexpected(root.error());
  FirstMistake mistakes{name};
  const TomlTable top{*root, mistakes};
  const ServiceReader read{top};

  constexpr std::array kEngineWords = std::to_array<std::string_view>({"running", "stopped"});
  constexpr std::array kEngineStates = {EngineState::running, EngineState::stopped};
  constexpr std::array kVehicleWords = std::to_array<std::string_view>({"standing", "any"});
  constexpr std::array kVehicleStates = {VehicleState::standing, VehicleState::any};
  constexpr std::array kCriteria = std::to_array<std::string_view>({"dry", "drip", "thread", "stream"});
  static const std::array<std::string, kCriteria.size()> kCriterionTexts{"dry", "drip", "thread", "stream"};

  ServiceFile out;
  top.allow_only(kTopKeys);
  const FileHead head = read_file_head(top);
  out.id = head.id;
  out.title = head.title;
  out.window = read.figure<TemperatureWindow>("window", {"low_c", "high_c"}, read_window);
  out.decision_point = read.temperature("decision_point", "at_c", kHottestCheckC);
  out.start_limit = read.temperature("start_limit", "below_c", kHottestCheckC);
  out.abort_limit = read.temperature("abort_limit", "at_c", kHottestCheckC);
  out.settling_time = read.time("settling_time");
  out.engine = read.choice<EngineState>("engine", "state", kEngineWords, kEngineStates);
  out.selector = read.figure<std::vector<std::string>>("selector", {"positions"}, read_positions);
  out.vehicle = read.choice<VehicleState>("vehicle", "state", kVehicleWords, kVehicleStates);
  out.idle = read.figure<IdleBand>("idle", {"low_rpm", "high_rpm"}, read_idle);
  out.selector_cycle = read.figure<std::vector<SelectorHold>>("selector_cycle", {"holds"}, read_cycle);
  out.codes_read = read.time("codes_read");
  out.minimum_stay = read.time("minimum_stay");
  out.rate_limit = read.figure<CelsiusPerMinute>("rate_limit", {"c_per_min"}, [](const TomlTable& t) {
    return CelsiusPerMinute{t.need_number("c_per_min", 0, kFastestCPerMinute)};
  });
  out.fill_l = read.litres("fill");
  out.drain_share = read.figure<double>("drain_share", {"share"},
                                        [](const TomlTable& t) { return t.need_number("share", 0, 1); });
  out.dead_volume_l = read.litres("dead_volume");
  out.imbalance = read.figure<ImbalanceLimits>("imbalance", {"stop_l", "abort_l"}, read_imbalance);
  out.bypass = read.temperature("bypass", "below_c", kHottestC);
  out.coolant_limit = read.temperature("coolant_limit", "above_c", kHottestC);
  out.criterion = read.choice<std::string>("criterion", "flow", kCriteria, kCriterionTexts);
  out.by_hand = read.figure<std::vector<std::string>>("by_hand", {"conditions"}, read_conditions);
  out.cautions = read.figure<std::vector<std::string>>("cautions", {"texts"}, read_cautions);
  out.advice_below = read.advice("advice_below");
  out.advice_above = read.advice("advice_above");
  out.density_kg_per_m3 = read.figure<double>("density", {"kg_per_m3"}, [](const TomlTable& t) {
    return t.need_number("kg_per_m3", kLeastDensity, kMostDensity);
  });
  must_be_positive(top, "fill", "l", out.fill_l);
  must_be_positive(top, "drain_share", "share", out.drain_share);
  if (!mistakes.any()) hold_together(top, out);
  if (mistakes.any()) return tl::unexpected(mistakes.fault());
  return out;
}

}  // namespace sumplog
