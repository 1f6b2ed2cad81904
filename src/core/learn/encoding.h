#pragma once
#include <span>
#include <string>

namespace sumplog {

/// How a raw value means a temperature: raw * scale + offset, in °C.
struct Encoding {
  double scale = 1;         ///< K per step
  double offset = 0;        ///< °C
  bool fahrenheit = false;  ///< the steps are °F; scale and offset are in °C all the same
  bool fitted = false;      ///< through readings by hand: no encoding that is in use
  [[nodiscard]] double value(double raw) const { return raw * scale + offset; }
};

/// An encoding that temperatures are sent in, and how common it is among the fields of its width.
struct UsualEncoding {
  Encoding encoding;
  double share = 0;  ///< of all; those of a width add up to 0.98: others are in use too
};

/// How common it is that none of the usual encodings holds.
inline constexpr double kFittedShare = 0.003;  // own choice: they are in use for a reason

/// The usual encodings of a field of so many bits, with or without a sign.
/// src  1 °C from -40: SAE J1979, J1939-71; 1/32 K from -273: SAE J1939-71; the others common practice, no source; the shares
///      are an own choice
[[nodiscard]] std::span<const UsualEncoding> usual_encodings(int bit_length, bool is_signed);

/// "raw * 0.5 - 40", in °F where the steps are.
[[nodiscard]] std::string text_of(const Encoding& encoding);

}  // namespace sumplog
