#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "core/codes/fault_code.h"

namespace sumplog {

// The fault memories of the simulated vehicle, as a scenario describes them.

/// A parameter of a freeze frame.
struct FreezeFrameValue {
  std::uint8_t pid = 0;
  std::optional<std::vector<std::uint8_t>> bytes;  ///< absent: what the vehicle has when the code sets
};

/// A snapshot record or an extended data record of ISO 14229-1: what stands behind its number.
struct FaultRecord {
  std::uint8_t number = 0;
  std::vector<std::uint8_t> bytes;
};

/// A fault code that a unit may have.
struct CodePlan {
  J2012Code code;  ///< always with a failure type: 00 when the scenario names none
  std::uint8_t status =
      0;  ///< ISO 14229-1, while it is set; stored and pending of SAE J1979 are its bits 3 and 2
  bool permanent = false;  ///< SAE J1979 service 0A; nothing that a tester does takes it away
  bool there = true;       ///< from the start; otherwise an event sets it
  std::vector<FreezeFrameValue> freeze_frame;
  std::vector<FaultRecord> snapshots;
  std::vector<FaultRecord> extended;
};

/// The memory of one unit on ISO 15765-2.
struct FaultMemoryPlan {
  bool tells_j1979 = false;          ///< services 02, 03, 07, 0A
  bool tells_iso14229 = false;       ///< service 19
  std::uint8_t availability = 0xFF;  ///< the status bits that the unit keeps, ISO 14229-1
  std::uint8_t format = 0x01;        ///< DTCFormatIdentifier, ISO 14229-1
  std::optional<bool> lamp;          ///< absent: on while a code is stored
  // SAE J1979 PID 01, bytes B, C, D: which monitors there are, and that all of them are ready; invented
  std::array<std::uint8_t, 3> monitors{0x07, 0xE5, 0x00};
  double distance_since_clear_km = 0;
  double time_since_clear_min = 0;
  std::uint8_t warm_ups_since_clear = 7;  // invented
  double distance_with_lamp_km = 0;
  double time_with_lamp_min = 0;
  std::vector<CodePlan> codes;
};

/// Lamps of SAE J1939-73, in the order of their bits.
enum class J1939Lamp : std::uint8_t { protect, amber, red, malfunction };

/// A fault code that a node of SAE J1939 may have.
struct J1939CodePlan {
  std::uint8_t source = 0;  ///< its address
  std::uint32_t spn = 0;
  std::uint8_t fmi = 0;
  std::uint8_t count = 1;       ///< occurrences
  bool old_conversion = false;  ///< the conversion method bit
  J1939Lamp lamp = J1939Lamp::amber;
  bool active = true;  ///< otherwise previously active
  bool there = true;   ///< from the start
};

// What happens to a memory. Nothing of it comes from a tester.
struct CodeSets {
  std::size_t code = 0;  ///< position in FaultMemoryPlan::codes
};
struct CodeChanges {
  std::size_t code = 0;
  std::uint8_t status = 0;
  std::optional<bool> permanent;
};
struct CodeGoes {
  std::size_t code = 0;
};
/// Somebody clears the codes elsewhere.
struct CodesCleared {};
struct J1939CodeChange {
  std::size_t code = 0;  ///< position in J1939Plan::codes
  bool active = false;
};

}  // namespace sumplog
