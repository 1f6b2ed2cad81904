#include "core/drawing/shown_degrees.h"

#include <cassert>
#include <cstdint>
#include <cstdlib>

namespace sumplog {
namespace {

constexpr std::string_view kUnit = " °C";
constexpr std::string_view kDigits = "0123456789.";

enum class Meaning : std::uint8_t { point, difference, rate };

/// Where the number begins that ends at `end`; `end` where there is none.
std::size_t number_before(std::string_view text, std::size_t end) {
  std::size_t begin = end;
  while (begin > 0 && kDigits.find(text[begin - 1]) != std::string_view::npos) --begin;
  if (begin == end) return end;
  const bool minus = begin > 0 && text[begin - 1] == '-';
  // "demo-9 °C" is no number below zero.
  if (minus && (begin == 1 || text[begin - 2] == ' ' || text[begin - 2] == '(')) --begin;
  return begin;
}

std::string converted(std::string_view number, Meaning meaning) {
  const double value = std::strtod(std::string(number).c_str(), nullptr);
  const std::size_t dot = number.find('.');
  const int decimals = dot == std::string_view::npos ? 0 : static_cast<int>(number.size() - dot - 1);
  constexpr int kMostDecimals = 9;
  if (decimals > kMostDecimals) return std::string(number);
  switch (meaning) {
    case Meaning::point: return fixed(fahrenheit(Celsius{value}), decimals);
    case Meaning::difference: return fixed(fahrenheit(CelsiusDifference{value}), decimals);
    case Meaning::rate: return fixed(fahrenheit(CelsiusPerMinute{value}), decimals);
  }
  return std::string(number);
}

Meaning meaning_of(std::string_view before, std::string_view after) {
  if (after.starts_with("/min")) return Meaning::rate;
  for (const std::string_view apart : {" above the window", " below the window", " from the coolant"})
    if (after.starts_with(apart)) return Meaning::difference;
  return before.ends_with("by ") ? Meaning::difference : Meaning::point;
}

}  // namespace

std::string degrees_of_phrase(std::string_view phrase, bool in_fahrenheit) {
  if (!in_fahrenheit) return std::string(phrase);
  std::string text;
  std::size_t told = 0;  // of the phrase
  for (std::size_t at = phrase.find(kUnit); at != std::string_view::npos; at = phrase.find(kUnit, at + 1)) {
    const std::size_t begin = number_before(phrase, at);
    if (begin == at) continue;
    assert(begin >= told);  // a unit ends with a letter: no number reaches over it
    const std::string_view before = phrase.substr(0, begin);
    const Meaning meaning = meaning_of(before, phrase.substr(at + kUnit.size()));
    // "35 to 45 °C"
    std::size_t low_end = begin;
    if (before.ends_with(" to ")) low_end = begin - std::string_view(" to ").size();
    if (before.ends_with("–")) low_end = begin - std::string_view("–").size();
    const std::size_t low = low_end == begin ? begin : number_before(phrase, low_end);
    assert(low >= told);
    if (low < low_end) {
      text += phrase.substr(told, low - told);
      text += converted(phrase.substr(low, low_end - low), meaning);
      text += phrase.substr(low_end, begin - low_end);
    } else {
      text += phrase.substr(told, begin - told);
    }
    text += converted(phrase.substr(begin, at - begin), meaning) + " °F";
    told = at + kUnit.size();
  }
  text += phrase.substr(told);
  return text;
}

}  // namespace sumplog
