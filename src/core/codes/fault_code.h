#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace sumplog {

/// A fault code of SAE J2012: the two bytes of SAE J1979, and in ISO 14229-1 a third with the failure type.
///   bit 15…14  P C B U
///   bit 13…12  first digit, 0…3
///   bit 11…0   three hexadecimal digits
struct J2012Code {
  std::uint16_t code = 0;
  std::optional<std::uint8_t> failure_type;
  friend bool operator==(const J2012Code&, const J2012Code&) = default;
};

/// "P0711", with a failure type "P0711-1F".
/// src  SAE J2012; conversions as in the `uds` package's documentation, dtc.rst
[[nodiscard]] std::string text_of(const J2012Code& code);

/// The other way; lower case is taken too.
/// out  nothing when the text is not such a code
[[nodiscard]] std::optional<J2012Code> parse_j2012(std::string_view text);

/// The bits of a status byte that are set, in words, lowest bit first.
/// src  ISO 14229-1, statusOfDTC
[[nodiscard]] std::vector<std::string> status_words(std::uint8_t status);

/// Bits of the status byte.
/// src  ISO 14229-1, statusOfDTC
namespace code_status {
inline constexpr std::uint8_t kTestFailed = 0x01;
inline constexpr std::uint8_t kFailedThisCycle = 0x02;
inline constexpr std::uint8_t kPending = 0x04;
inline constexpr std::uint8_t kConfirmed = 0x08;
inline constexpr std::uint8_t kNotCompletedSinceClear = 0x10;
inline constexpr std::uint8_t kFailedSinceClear = 0x20;
inline constexpr std::uint8_t kNotCompletedThisCycle = 0x40;
inline constexpr std::uint8_t kWarningIndicator = 0x80;
/// Every bit that says that something was wrong; the two others only say that a test has not run.
inline constexpr std::uint8_t kAnyFault = 0xAF;
}  // namespace code_status

}  // namespace sumplog
