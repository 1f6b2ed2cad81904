#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/item/result.h"
#include "core/thermal/temperature.h"

namespace sumplog {

/// A figure of the service file together with where it came from.
template <class T>
struct Sourced {
  T value{};
  Origin origin = Origin::invented;
  std::string note;  ///< where exactly: document, page, "invented for the demo"
  int line = 0;
};

struct TemperatureWindow {
  Celsius low{};
  Celsius high{};
  friend bool operator==(const TemperatureWindow&, const TemperatureWindow&) = default;
};

enum class EngineState : std::uint8_t { running, stopped };
enum class VehicleState : std::uint8_t { standing, any };

struct IdleBand {
  double low_rpm = 0;
  double high_rpm = 0;
};
struct SelectorHold {
  std::string position;  ///< "P", "R", "N", "D", …
  Duration hold{};
};
struct ImbalanceLimits {
  double stop_l = 0;
  double abort_l = 0;
};

/// decoders/<id>/service.toml: what the maker's procedure asks for. Nothing here is a default: what is absent
/// is not known.
struct ServiceFile {
  std::string id;
  std::string title;
  std::optional<Sourced<TemperatureWindow>> window;
  std::optional<Sourced<Celsius>> decision_point;
  std::optional<Sourced<Celsius>> start_limit;  ///< begin only below
  std::optional<Sourced<Celsius>> abort_limit;  ///< plug in at the latest here
  std::optional<Sourced<Duration>> settling_time;
  std::optional<Sourced<EngineState>> engine;
  std::optional<Sourced<std::vector<std::string>>> selector;  ///< positions that are allowed during the check
  std::optional<Sourced<VehicleState>> vehicle;
  std::optional<Sourced<IdleBand>> idle;
  std::optional<Sourced<std::vector<SelectorHold>>> selector_cycle;
  std::optional<Sourced<Duration>> codes_read;  ///< fault codes must have been read within this time before
  std::optional<Sourced<Duration>> minimum_stay;
  std::optional<Sourced<CelsiusPerMinute>> rate_limit;
  std::optional<Sourced<double>> fill_l;
  std::optional<Sourced<double>> drain_share;    ///< 0…1 of the fill that a drain takes out
  std::optional<Sourced<double>> dead_volume_l;  ///< never exchanged (converter, cooler)
  std::optional<Sourced<ImbalanceLimits>> imbalance;
  std::optional<Sourced<Celsius>> bypass;         ///< little or no cooler flow below
  std::optional<Sourced<Celsius>> coolant_limit;  ///< hotter coolant makes the window short
  std::optional<Sourced<std::string>> criterion;  ///< "dry", "drip", "thread", "stream"
  std::optional<Sourced<std::vector<std::string>>>
      by_hand;  ///< conditions that no bus shows: a person ticks them
  std::optional<Sourced<std::vector<std::string>>> cautions;
  std::optional<Sourced<std::string>> advice_below;  ///< what to do while the fluid is below the window
  std::optional<Sourced<std::string>> advice_above;  ///< and above it
  std::optional<Sourced<double>> density_kg_per_m3;  ///< of the fluid at 15 °C
};

/// Reads the text of a service.toml.
/// err  first mistake with `file:line`: unknown key, missing origin, low ≥ high, decision outside the window,
/// …
[[nodiscard]] Result<ServiceFile> parse_service_file(std::string_view text, const std::string& name);

}  // namespace sumplog
