#pragma once
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace sumplog {

// Which bytes of a message tell what vehicle, which single control unit or what workshop it was.
//
//   message                                        bytes                    source
//   49 02 (answer), VIN                            all after InfoType       SAE J1979, InfoType 02
//   49 0D, engine serial number                    all after InfoType       SAE J1979-DA (from memory)
//   62 F190 (answer), 2E F190 (written), VIN       the identifier's data    ISO 14229-1, table C.1
//   the same with F18C serial number of the unit   "                        "
//     F198, F19A workshop or tester                "                        "
//     F183, F184, F185 fingerprints of who wrote   "                        " (from memory)
//   5A 90 (answer), VIN                            all after the option     ISO 14230-3 (from memory)
//   PGN 65260 VIN                                  up to its asterisk       SAE J1939-71
//   PGN 65259 component identification             third field: serial      SAE J1939-71
//   PGN 64965 ECU identification                   second field: serial     SAE J1939-71 (from memory)
//   PGN 60928 address claimed                      identity number          SAE J1939-81, NAME
//
// Calibration ids, verification numbers, part numbers and dates of manufacture stay: many units have the same.

enum class IdentifyingKind : std::uint8_t {
  vin,     ///< text that may be a VIN
  serial,  ///< any other: text or binary
  number,  ///< J1939 identity number: the low 21 bits of its 3 bytes
};

struct IdentifyingRange {
  std::size_t at = 0;
  std::size_t length = 0;
  IdentifyingKind kind = IdentifyingKind::vin;
};

/// Ranges of a diagnostic message, service byte first.
/// in   asked  the identifiers of the last request of service 22, in their order: an answer to several of them has no lengths
[[nodiscard]] std::vector<IdentifyingRange> identifying_ranges(std::span<const std::uint8_t> payload,
                                                               std::span<const std::uint16_t> asked);
/// Ranges of a J1939 group.
[[nodiscard]] std::vector<IdentifyingRange> identifying_ranges_of_group(
    std::uint32_t group, std::span<const std::uint8_t> payload);
/// The identifiers that a request of service 22 asks for.
[[nodiscard]] std::vector<std::uint16_t> asked_identifiers(std::span<const std::uint8_t> request);

}  // namespace sumplog
