#include "core/codes/fault_code.h"

#include <array>
#include <cctype>

namespace sumplog {
namespace {

constexpr std::string_view kSystems = "PCBU";  // powertrain, chassis, body, network
constexpr std::string_view kHex = "0123456789ABCDEF";
constexpr unsigned kSystemShift = 14;
constexpr unsigned kFirstDigitShift = 12;
constexpr std::size_t kShort = 5;  // "P0711"
constexpr std::size_t kLong = 8;   // "P0711-1F"

constexpr std::array<std::string_view, 8> kStatus{"test failed",
                                                  "test failed this operation cycle",
                                                  "pending",
                                                  "confirmed",
                                                  "test not completed since last clear",
                                                  "test failed since last clear",
                                                  "test not completed this operation cycle",
                                                  "warning indicator requested"};

std::optional<unsigned> digit_of(char c) {
  const auto at = kHex.find(static_cast<char>(std::toupper(static_cast<unsigned char>(c))));
  if (at == std::string_view::npos) return std::nullopt;
  return static_cast<unsigned>(at);
}

}  // namespace

std::string text_of(const J2012Code& code) {
  std::string text;
  text += kSystems[code.code >> kSystemShift];
  text += kHex[code.code >> kFirstDigitShift & 3U];
  for (const unsigned shift : {8U, 4U, 0U}) text += kHex[code.code >> shift & 0xFU];
  if (code.failure_type) {
    text += '-';
    text += kHex[*code.failure_type >> 4U];
    text += kHex[*code.failure_type & 0xFU];
  }
  return text;
}

std::optional<J2012Code> parse_j2012(std::string_view text) {
  if (text.size() != kShort && (text.size() != kLong || text[kShort] != '-')) return std::nullopt;
  const auto system = kSystems.find(static_cast<char>(std::toupper(static_cast<unsigned char>(text[0]))));
  if (system == std::string_view::npos) return std::nullopt;
  auto value = static_cast<unsigned>(system);
  for (std::size_t i = 1; i < kShort; ++i) {
    const auto digit = digit_of(text[i]);
    if (!digit || (i == 1 && *digit > 3)) return std::nullopt;
    value = i == 1 ? value << 2U | *digit : value << 4U | *digit;
  }
  J2012Code code{static_cast<std::uint16_t>(value), std::nullopt};
  if (text.size() == kLong) {
    const auto high = digit_of(text[kShort + 1]);
    const auto low = digit_of(text[kShort + 2]);
    if (!high || !low) return std::nullopt;
    code.failure_type = static_cast<std::uint8_t>(*high << 4U | *low);
  }
  return code;
}

std::vector<std::string> status_words(std::uint8_t status) {
  std::vector<std::string> words;
  for (std::size_t bit = 0; bit < kStatus.size(); ++bit)
    if ((status >> bit & 1U) != 0) words.emplace_back(kStatus[bit]);
  return words;
}

}  // namespace sumplog
