#include "core/drawing/limit_table.h"

#include <algorithm>
#include <cmath>

#include "core/drawing/shown_degrees.h"
#include "core/journal/wrapped_text.h"

namespace sumplog {
namespace {

std::string origin_text(Origin origin, const std::string& note) {
  return std::string(text_of(origin)) + (note.empty() ? "" : ": " + note);
}

/// As many decimals as the figure has, four at most.
std::string plain(double value) {
  int decimals = 0;
  for (double scaled = value; decimals < 4 && std::abs(scaled - std::round(scaled)) > 1e-6; ++decimals)
    scaled *= 10;
  return fixed(value, decimals);
}

/// "raw * 0.5 - 40 °C"
std::string formula(const Signal& signal) {
  std::string text = "raw";
  if (signal.scale != 1) text += " * " + plain(signal.scale);
  if (signal.offset != 0) text += (signal.offset < 0 ? " - " : " + ") + plain(std::abs(signal.offset));
  return text + " " + (signal.unit == "degC" ? "°C" : signal.unit);
}

std::string some_of(std::vector<std::string> names) {
  constexpr std::size_t kMost = 6;
  const std::size_t count = names.size();
  if (count > kMost) names.resize(kMost);
  return joined(names, ", ") + (count > kMost ? " and " + std::to_string(count - kMost) + " more" : "");
}

class Table {
 public:
  Table(const JobConfiguration& configuration, bool in_fahrenheit)
      : configuration_(configuration), fahrenheit_(in_fahrenheit) {}

  std::vector<LimitRow> take() {
    window();
    if (!configuration_.service) return std::move(rows_);
    const ServiceFile& file = *configuration_.service;
    temperatures(file);
    state(file);
    times(file);
    fluid(file);
    words(file);
    return std::move(rows_);
  }

 private:
  template <class T>
  void add(const char* name, const Sourced<T>& figure, const std::string& value) {
    rows_.push_back({name, value, origin_text(figure.origin, figure.note),
                     configuration_.service->id + "/service.toml:" + std::to_string(figure.line)});
  }
  template <class T, class F>
  void each(const char* name, const std::optional<Sourced<T>>& figure, F value) {
    if (figure) add(name, *figure, value(figure->value));
  }
  [[nodiscard]] std::string c(Celsius value) const {
    const double shown = fahrenheit_ ? fahrenheit(value) : value.value;
    return plain(shown) + (fahrenheit_ ? " °F" : " °C");
  }
  static std::string s(Duration time) { return plain(in_seconds(time)) + " s"; }

  void window() {
    if (!configuration_.window) {
      rows_.push_back({"window", "none: " + configuration_.no_window_why, "", ""});
      return;
    }
    const TemperatureWindow& used = *configuration_.window;
    const std::string value =
        plain(fahrenheit_ ? fahrenheit(used.low) : used.low.value) + " to " + c(used.high);
    const auto* const file = configuration_.service ? &configuration_.service->window : nullptr;
    if (file != nullptr && *file && (*file)->value == used)
      add("window", **file, value);
    else
      rows_.push_back({"window", value, "set for this job, not taken from a service file", ""});
  }
  void temperatures(const ServiceFile& file) {
    each("decision point", file.decision_point, [&](Celsius v) { return c(v); });
    each("begin only below", file.start_limit, [&](Celsius v) { return c(v); });
    each("plug in at the latest at", file.abort_limit, [&](Celsius v) { return c(v); });
    each("coolant hotter makes the window short", file.coolant_limit, [&](Celsius v) { return c(v); });
    each("little cooler flow below", file.bypass, [&](Celsius v) { return c(v); });
    each("fastest rise", file.rate_limit, [&](CelsiusPerMinute v) {
      return plain(fahrenheit_ ? fahrenheit(v) : v.value) + (fahrenheit_ ? " °F/min" : " °C/min");
    });
  }
  void state(const ServiceFile& file) {
    each("engine", file.engine,
         [](EngineState v) { return v == EngineState::running ? "running" : "stopped"; });
    each("idle", file.idle,
         [](const IdleBand& v) { return plain(v.low_rpm) + " to " + plain(v.high_rpm) + " rpm"; });
    each("vehicle", file.vehicle,
         [](VehicleState v) { return v == VehicleState::standing ? "standing" : "any"; });
    each("selector during the check", file.selector,
         [](const std::vector<std::string>& v) { return joined(v, ", "); });
    each("selector cycle", file.selector_cycle, [](const std::vector<SelectorHold>& v) {
      std::vector<std::string> holds;
      holds.reserve(v.size());
      for (const SelectorHold& hold : v) holds.push_back(hold.position + " " + s(hold.hold));
      return joined(holds, ", ");
    });
    each("to be ticked by hand", file.by_hand,
         [](const std::vector<std::string>& v) { return joined(v, ", "); });
  }
  void times(const ServiceFile& file) {
    each("settling time", file.settling_time, s);
    each("fault codes read within", file.codes_read, s);
    const auto& stay = file.minimum_stay;
    if (stay && stay->value == configuration_.minimum_stay)
      add("shortest stay in the window", *stay, s(stay->value));
    else
      rows_.push_back({"shortest stay in the window", s(configuration_.minimum_stay),
                       configuration_.minimum_stay == JobConfiguration{}.minimum_stay
                           ? "common practice, no source"
                           : "set for this job, not taken from a service file",
                       ""});
  }
  void fluid(const ServiceFile& file) {
    each("fill", file.fill_l, [](double v) { return plain(v) + " L"; });
    each("a drain takes out", file.drain_share, [](double v) { return plain(v * 100) + " % of the fill"; });
    each("never exchanged", file.dead_volume_l, [](double v) { return plain(v) + " L"; });
    each("imbalance of an exchange", file.imbalance, [](const ImbalanceLimits& v) {
      return "stop at " + plain(v.stop_l) + " L, abort at " + plain(v.abort_l) + " L";
    });
    each("density at 15 °C", file.density_kg_per_m3, [](double v) { return plain(v) + " kg/m³"; });
    each("level criterion", file.criterion, [](const std::string& v) { return v; });
  }
  void words(const ServiceFile& file) {
    const auto phrase = [this](const std::string& v) { return degrees_of_phrase(v, fahrenheit_); };
    each("below the window", file.advice_below, phrase);
    each("above the window", file.advice_above, phrase);
  }

  const JobConfiguration& configuration_;
  bool fahrenheit_;
  std::vector<LimitRow> rows_;
};

}  // namespace

std::vector<LimitRow> limit_table(const JobConfiguration& configuration, bool fahrenheit) {
  return Table(configuration, fahrenheit).take();
}

std::vector<LimitRow> decoder_table(const JobConfiguration& configuration) {
  constexpr std::string_view kFluid = "fluid_temperature";
  std::vector<LimitRow> rows;
  for (const Decoder& decoder : configuration.decoders) {
    std::vector<std::pair<std::string, std::vector<std::string>>> others;  // by origin
    for (const Signal& signal : decoder.signals) {
      const std::string origin = origin_text(signal.origin, signal.origin_note);
      if (signal.name == kFluid) {
        rows.push_back({decoder.id + ": " + signal.name, formula(signal), origin,
                        decoder.id + "/signals.toml:" + std::to_string(signal.line)});
        continue;
      }
      auto group =
          std::find_if(others.begin(), others.end(), [&](const auto& one) { return one.first == origin; });
      if (group == others.end()) group = others.insert(others.end(), {origin, {}});
      group->second.push_back(signal.name);
    }
    for (const auto& [origin, names] : others)
      rows.push_back({decoder.id + ": other signals", some_of(names), origin, decoder.id + "/signals.toml"});
    if (!decoder.note.empty()) rows.push_back({decoder.id + ": note", decoder.note, "", ""});
  }
  return rows;
}

}  // namespace sumplog
