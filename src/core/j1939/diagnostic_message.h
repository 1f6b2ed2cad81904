#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/result.h"

namespace sumplog {

inline constexpr std::uint32_t kGroupActiveCodes = 65226;  // FECA, SAE J1939-73 DM1, active codes
inline constexpr std::uint32_t kGroupPreviousCodes =
    65227;  // FECB, SAE J1939-73 DM2, previously active codes

/// Two bits of DM1. `error` is reserved in older editions; `not_available`: the unit has no such lamp.
enum class LampState : std::uint8_t { off = 0, on = 1, error = 2, not_available = 3 };
/// `steady` is the standard's 11: "do not flash", or not known.
enum class LampFlash : std::uint8_t { slow = 0, fast = 1, reserved = 2, steady = 3 };

struct Lamp {
  LampState state = LampState::not_available;
  LampFlash flash = LampFlash::steady;
  friend bool operator==(const Lamp&, const Lamp&) = default;
};

struct Lamps {
  Lamp malfunction;  ///< emission related (MIL)
  Lamp red_stop;
  Lamp amber_warning;
  Lamp protect;
  friend bool operator==(const Lamps&, const Lamps&) = default;
};

/// One fault code of SAE J1939-73.
struct SpnCode {
  std::uint32_t spn = 0;                 ///< suspect parameter number, 19 bits
  std::uint8_t fmi = 0;                  ///< failure mode identifier, 0…31
  std::optional<std::uint8_t> occurred;  ///< times, 0…126; absent: the unit does not count
  bool conversion_method =
      false;  ///< set by units that lay the SPN out as before version 4: `spn` may be wrong
  std::array<std::uint8_t, 4> raw{};
  friend bool operator==(const SpnCode&, const SpnCode&) = default;
};

/// What one DM1 or DM2 says.
struct DiagnosticMessage {
  Lamps lamps;
  std::vector<SpnCode> codes;  ///< in the unit's order; empty: the unit has none
  std::size_t without_number =
      0;  ///< entries that are no fill and yet name no parameter (SPN 0 or 7FFFF): for a `loss` line
};

enum class DiagnosticMessageError {
  wrong_length = 1,  ///< shorter than lamps and one code, or a code is cut off
  remainder,         ///< what follows the last code is no fill (FF): a code may be hidden in it
};
[[nodiscard]] std::string_view text_of(DiagnosticMessageError error);

/// One code out of its four bytes, as it stands.
[[nodiscard]] SpnCode spn_code(std::span<const std::uint8_t, 4> bytes);

/// "SPN 177 FMI 3".
[[nodiscard]] std::string spn_text(const SpnCode& code);

/// Reads the data of a DM1 or DM2: a single frame, or what the transport put together (BAM, RTS/CTS).
/// in   payload  6 bytes or more; a single frame ends in two bytes of fill
/// err  wrong_length · remainder (checked in this order)
/// src  SAE J1939-73 DM1, DM2; Open-SAE-J1939 DM1.c (layout), docs.rs/j1939 diagnostic.rs (meaning of two
///      bits); from memory: SPN 0 and 7FFFF mean "no code"
[[nodiscard]] Result<DiagnosticMessage, DiagnosticMessageError> read_diagnostic_message(
    std::span<const std::uint8_t> payload);

}  // namespace sumplog
