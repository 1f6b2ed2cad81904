#pragma once
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

/// A code as a unit sent it.
struct ListedCode {
  std::string code;                    ///< "P0711", "P0711-1F", "SPN 177 FMI 3"
  std::string raw;                     ///< its bytes in hex, without the status
  std::optional<std::uint8_t> status;  ///< ISO 14229-1 status byte; SAE J1979 has none
  friend bool operator==(const ListedCode&, const ListedCode&) = default;
};

/// Services 03, 07, 0A and 19 02, 19 0A.
struct CodeList {
  std::vector<ListedCode> codes;
};
/// 19 01: how many codes match, and how the unit writes them.
struct CodeCount {
  std::uint8_t format = 0;
  std::uint16_t count = 0;
};
/// Service 02, PID 02: which code froze the frame.
struct FrozenCode {
  std::uint8_t frame = 0;
  std::optional<ListedCode> code;  ///< nothing: no frame is stored
};
/// Service 02, other PIDs.
struct FrozenValues {
  std::uint8_t frame = 0;
  std::vector<std::pair<std::uint8_t, std::vector<std::uint8_t>>> values;  ///< PID and its data
};
/// 19 04 and 19 06: what the unit kept with a code. The layout of the records is the maker's.
struct CodeRecords {
  ListedCode code;
  std::vector<std::uint8_t> bytes;  ///< everything behind the status; empty: none is kept
};
/// Service 01, PID 01.
struct MonitorStatus {
  struct Monitor {
    std::string name;
    bool complete = false;
    friend bool operator==(const Monitor&, const Monitor&) = default;
  };
  bool warning_lamp = false;  ///< MIL
  int stored = 0;             ///< emission-related codes that the unit counts
  std::vector<Monitor> monitors;
  friend bool operator==(const MonitorStatus&, const MonitorStatus&) = default;
};

using CodeAnswer = std::variant<CodeList, CodeCount, FrozenCode, FrozenValues, CodeRecords, MonitorStatus>;

/// How a unit writes its codes in ISO 14229-1 service 19.
/// src  ISO 14229-1, DTCFormatIdentifier
enum class CodeFormat : std::uint8_t {
  j2012 = 0,     ///< SAE J2012-DA, format 00; also taken for 01 (ISO 14229-1) and 04 (J2012-DA, 04)
  j1939_73 = 2,  ///< SPN and FMI
};
[[nodiscard]] CodeFormat code_format(std::uint8_t identifier);

/// True for questions whose answers this file reads: 01 01, 02, 03, 07, 0A, 19 01 02 04 06 0A.
[[nodiscard]] bool asks_for_codes(std::span<const std::uint8_t> asked);

/// Reads a positive answer.
/// in   asked     request payload; asks_for_codes holds
///      response  payload, service + 40 hex first
///      format    how this unit writes its codes (service 19)
/// err  why the bytes are no such answer, one clause
/// src  SAE J1979; ISO 15765-4 (the count in 43, 47, 4A); ISO 14229-1 ReadDTCInformation
[[nodiscard]] Result<CodeAnswer, std::string> read_code_answer(std::span<const std::uint8_t> asked,
                                                               std::span<const std::uint8_t> response,
                                                               CodeFormat format);

}  // namespace sumplog
