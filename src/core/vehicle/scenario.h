#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/decoder/decoder.h"
#include "core/isotp/addressing.h"
#include "core/item/item.h"
#include "core/item/result.h"
#include "core/vehicle/fault_plan.h"
#include "core/vehicle/quantity.h"
#include "core/vehicle/thermal_model.h"
#include "core/vehicle/wire_time.h"

namespace sumplog {

// A scenario: one simulated vehicle, what happens to it, and what a tester asks it. scenario.toml as data.

/// How a quantity becomes bytes: raw = (value - offset) / scale, rounded to a whole number and held inside
/// the field.
struct FieldCoding {
  int bytes = 1;  ///< 1…4
  ByteOrder byte_order = ByteOrder::big;
  bool is_signed = false;
  double scale = 1;
  double offset = 0;
  Rounding rounding = Rounding::round;    ///< `unknown` is not possible here
  std::optional<std::uint32_t> no_value;  ///< raw bits while the sensor is dead
  std::vector<std::uint32_t> codes;       ///< for selector_position: the raw values of P, R, N, D; else empty
};

/// A data identifier of ISO 14229 service 22 that a unit answers.
struct QuantityRecord {
  Quantity quantity = Quantity::fluid_temperature;
  FieldCoding coding{};
  std::vector<std::uint8_t> before;  ///< bytes of the record in front of the field
  std::vector<std::uint8_t> after;   ///< and behind it
};
struct ConstantRecord {
  std::vector<std::uint8_t> bytes;
};
struct RefusedRecord {
  std::uint8_t negative_code = 0;  ///< ISO 14229-1 NRC that every request for it gets
};
struct DidPlan {
  std::uint16_t did = 0;
  std::variant<QuantityRecord, ConstantRecord, RefusedRecord> record{};
};

struct CalibrationPlan {
  std::string id;         ///< up to 16 characters
  std::uint32_t cvn = 0;  ///< calibration verification number
};

/// One control unit on ISO 15765-2.
struct UnitPlan {
  std::string id;  ///< "transmission"
  UnitAddress address{};
  std::vector<std::uint8_t> pids;             ///< SAE J1979 service 01, those that carry a value; sorted
  bool tells_vin = false;                     ///< service 09 02, and DID F190
  std::vector<CalibrationPlan> calibrations;  ///< service 09 04 and 06
  std::string name;                           ///< service 09 0A; "TCM-TransmissionCtl", up to 20 characters
  std::vector<DidPlan> dids;
  FaultMemoryPlan memory;
  Duration answer_after{};   ///< from the request to the first frame
  Duration answer_jitter{};  ///< plus 0…this
};

/// SAE J1939 groups that are broadcast, with their periods; zero: not sent.
struct J1939Plan {
  std::uint8_t engine_address = 0;        // SAE J1939 preferred addresses: engine #1
  std::uint8_t transmission_address = 3;  // and transmission #1
  Duration engine_speed{};                ///< EEC1, PGN 61444
  Duration gears{};                       ///< ETC2, PGN 61445
  Duration engine_temperature{};          ///< ET1, PGN 65262
  Duration vehicle_speed{};               ///< CCVS, PGN 65265
  Duration transmission_fluids{};         ///< TRF1, PGN 65272
  Duration vehicle_identification{};      ///< VI, PGN 65260: 18 bytes, as a broadcast announce message
  Duration fault_codes{};                 ///< DM1, PGN 65226, of both addresses; DM2, PGN 65227, on request
  std::vector<J1939CodePlan> codes;
};

/// Other traffic on the bus: a counter in the first bytes, big-endian, then the low byte of the identifier.
struct BackgroundPlan {
  CanId id{};
  Duration period{};
  std::uint8_t length = 8;
};

enum class SensorState : std::uint8_t {
  works,
  dead,        ///< the unit sends its "no value" pattern
  stuck,       ///< the last value stays
  substitute,  ///< the unit shows a value of its own
};

struct EngineChange {
  bool runs = false;
};
struct SelectorChange {
  SelectorPosition position = SelectorPosition::park;
};
struct VehicleSpeedChange {
  double km_h = 0;
};
struct EngineSpeedChange {
  std::optional<double> rpm;  ///< absent: idle again
};
struct FanChange {
  bool runs = false;
};
struct FluidAdded {
  double litres = 0;
  Celsius temperature{};
};
struct FluidDrained {
  double litres = 0;
};
struct SensorChange {
  SensorState state = SensorState::works;
  Celsius substitute{};
};
struct SupplyChange {
  std::optional<double> volts;  ///< absent: as the engine has it
};
using VehicleChange = std::variant<EngineChange, SelectorChange, VehicleSpeedChange, EngineSpeedChange,
                                   FanChange, FluidAdded, FluidDrained, SensorChange, SupplyChange>;

struct SilenceChange {
  bool silent = false;
};
/// The next request of `service` gets `times` negative responses 0x78, `every` apart, before its answer.
struct PendingAnswers {
  std::uint8_t service = 0;
  int times = 0;
  Duration every{};
};
/// The next answer of `service` that has so many frames loses its consecutive frame `index`, counted from 1.
struct LostConsecutive {
  std::uint8_t service = 0;
  int index = 0;
};
/// The unit starts anew: what it was about to say is lost, and it is silent for a while.
struct ResetChange {
  Duration takes{};
};
struct UnitChange {
  std::size_t unit = 0;  ///< position in Scenario::units
  std::variant<SilenceChange, PendingAnswers, LostConsecutive, ResetChange, CodeSets, CodeChanges, CodeGoes,
               CodesCleared>
      change{};
};

struct LinkChange {
  LinkState state = LinkState::up;  ///< of the tester's adapter
};

struct ClockChange {
  Duration step{};  ///< by how much the clock of the tester's computer is set
};
/// What happens on the tester's side: the vehicle does not notice.
using TesterChange = std::variant<LinkChange, ClockChange>;

struct ScenarioEvent {
  Duration at{};  ///< from the start
  std::variant<VehicleChange, UnitChange, TesterChange, J1939CodeChange, CodesCleared>
      change{};  ///< CodesCleared: of all units
};

/// A request of the scripted tester.
struct AskPlan {
  std::optional<std::size_t> unit;     ///< position in Scenario::units; absent: functional, or all of J1939
  std::vector<std::uint8_t> payload;   ///< service id first, 1…7 bytes
  std::optional<std::uint32_t> group;  ///< SAE J1939: request for this PGN; the payload is then empty
  Duration at{};
  Duration every{};  ///< zero: once
  std::optional<Duration> until;
};

/// What a person enters in the course of a live job.
struct EntryPlan {
  Duration at{};
  std::string name;    ///< as in docs/entries.md
  std::string fields;  ///< one JSON object
};

struct Scenario {
  std::string title;
  std::uint64_t seed = 1;  ///< of jitter and noise
  TimePoint start{};
  Duration lasts{};
  BusName bus{};
  std::string vin;

  bool extended_ids = false;  ///< 29-bit diagnostic identifiers
  bool fd = false;
  BitRates rates{};

  ThermalParameters thermal{};
  ThermalState temperatures{};
  Celsius ambient{20};
  bool engine_runs = false;
  bool fan_runs = false;
  SelectorPosition selector = SelectorPosition::park;
  double odometer_km = 0;
  CelsiusDifference sensor_noise{};  ///< the sensor scatters by up to this, either way

  std::vector<UnitPlan> units;
  std::optional<J1939Plan> j1939;
  std::vector<BackgroundPlan> background;
  std::vector<ScenarioEvent> events;  ///< in the order of their times, ties as in the file
  std::vector<AskPlan> asks;
  std::vector<EntryPlan> entries;  ///< in the order of their times, ties as in the file

  /// The addresses of the units, as a decoder would name them.
  [[nodiscard]] AddressBook addresses() const;
  /// Where a request to all units goes: 7DF or 18DB33F1.
  [[nodiscard]] Endpoint functional_request() const;
};

/// Reads the text of a scenario.toml. `name` is what errors call the file.
/// err  first mistake with `file:line`: unknown key, unknown unit, identifier out of range, two units with
/// one address,
///      event after the end, more fluid drained than there is …
/// src  docs/scenario_format.md
[[nodiscard]] Result<Scenario> parse_scenario(std::string_view text, const std::string& name);

}  // namespace sumplog
