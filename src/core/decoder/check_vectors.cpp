#include "core/decoder/check_vectors.h"

#include <algorithm>
#include <cmath>

#include "core/item/json_line.h"

namespace sumplog {
namespace {

/// Published tables print rounded values; a wrong scale or offset differs by far more than this share of a
/// step.
constexpr double kToleranceInSteps = 0.01;
constexpr double kHalfStep = 0.5;

std::string bytes_text(const CheckVector& check) {
  return hex_text(check.bytes.data(), check.bytes.size());
}

std::string pattern_text(const RawPattern& pattern) {
  std::string out = hex_number(static_cast<std::int64_t>(pattern.low));
  if (pattern.high != pattern.low) out += "…" + hex_number(static_cast<std::int64_t>(pattern.high));
  return out + " (" + pattern.meaning + ")";
}

void hold_one(const Signal& signal, const CheckVector& check, FirstMistake& mistakes) {
  const std::string start = "check vector " + bytes_text(check) + " ";
  const Result<double, DecodeError> got = decode(signal, check.bytes);
  if (!got && got.error() == DecodeError::wrong_length) {
    mistakes.add(check.line, start + "has " + std::to_string(check.bytes.size()) +
                                 " bytes, the signal's length is " + std::to_string(signal.length));
  } else if (!got && check.value) {
    mistakes.add(check.line, start + "gives no reading (" + std::string{text_of(got.error())} + "), not " +
                                 number_text(*check.value));
  } else if (got && !check.value) {
    mistakes.add(check.line, start + "gives " + number_text(*got) + ", but should give no reading");
  } else if (got && std::abs(*got - *check.value) > std::abs(signal.scale) * kToleranceInSteps) {
    mistakes.add(check.line, start + "gives " + number_text(*got) + ", not " + number_text(*check.value));
  }
}

bool any_value(const Signal& signal, double low, double high) {
  return std::any_of(signal.checks.begin(), signal.checks.end(), [&](const CheckVector& check) {
    return check.value && *check.value >= low && *check.value <= high;
  });
}

bool any_no_value(const Signal& signal, const RawPattern& pattern) {
  return std::any_of(signal.checks.begin(), signal.checks.end(), [&](const CheckVector& check) {
    return !check.value && carries(signal, check.bytes) && no_value_pattern(signal, check.bytes) == &pattern;
  });
}

bool any_elsewhere(const Signal& signal) {
  return std::any_of(signal.checks.begin(), signal.checks.end(),
                     [&](const CheckVector& check) { return !carries(signal, check.bytes); });
}

}  // namespace

void hold_against_checks(const Signal& signal, FirstMistake& mistakes) {
  for (const CheckVector& check : signal.checks) hold_one(signal, check, mistakes);
  if (mistakes.any()) return;

  const double half = std::abs(signal.scale) * kHalfStep;
  const std::string start = "'" + signal.name + "' has no check vector for ";
  if (!any_value(signal, signal.valid_low - half, signal.valid_low + half)) {
    mistakes.add(signal.line, start + "the low end of 'valid', " + number_text(signal.valid_low));
  }
  if (!any_value(signal, signal.valid_high - half, signal.valid_high + half)) {
    mistakes.add(signal.line, start + "the high end of 'valid', " + number_text(signal.valid_high));
  }
  // The low end alone does not show a lost sign: it may be raw zero.
  const bool room_below_zero = signal.valid_low + 2 * half < 0 && signal.valid_high > 0;
  if (room_below_zero &&
      !any_value(signal, std::nextafter(signal.valid_low + half, 0), std::nextafter(0.0, -1.0))) {
    mistakes.add(signal.line, start + "a value below zero besides the low end");
  }
  if (signal.multiplexor && !any_elsewhere(signal)) {
    mistakes.add(signal.line, start + "another value of the 'multiplexor'");
  }
  for (const RawPattern& pattern : signal.no_value) {
    if (!any_no_value(signal, pattern)) {
      mistakes.add(signal.line, start + "the 'no_value' pattern " + pattern_text(pattern));
    }
  }
}

}  // namespace sumplog
