#include "core/learn/encoding.h"

#include <array>
#include <cmath>

#include "core/item/json_line.h"
#include "core/thermal/temperature.h"

namespace sumplog {
namespace {

constexpr double kKelvinPerFahrenheit = 5.0 / 9.0;
constexpr Encoding celsius(double scale, double offset) {
  return {scale, offset, false, false};
}
/// in  offset_f  °F at raw 0
constexpr Encoding fahrenheit(double scale_f, double offset_f) {
  constexpr double kIce_f = 32;
  return {scale_f * kKelvinPerFahrenheit, (offset_f - kIce_f) * kKelvinPerFahrenheit, true, false};
}

constexpr int kBitsPerByte = 8;

constexpr std::array<UsualEncoding, 9> kByte{{
    {celsius(1, -40), 0.46},
    {celsius(1, -50), 0.12},
    {celsius(1, 0), 0.05},
    {celsius(0.5, -40), 0.09},
    {celsius(0.5, 0), 0.03},
    {celsius(0.75, -48), 0.06},
    {celsius(2, -40), 0.02},
    {fahrenheit(1, -40), 0.10},
    {fahrenheit(1, 0), 0.05},
}};
constexpr std::array<UsualEncoding, 4> kSignedByte{{
    {celsius(1, 0), 0.60},
    {celsius(1, 40), 0.10},
    {celsius(0.5, 0), 0.16},
    {fahrenheit(1, 0), 0.12},
}};
constexpr std::array<UsualEncoding, 16> kLong{{
    {celsius(0.1, -40), 0.15},
    {celsius(0.1, 0), 0.08},
    {celsius(0.1, -50), 0.05},
    {celsius(0.1, -273.1), 0.04},
    {celsius(0.0625, 0), 0.08},
    {celsius(0.0625, -40), 0.10},
    {celsius(0.03125, -273), 0.14},
    {celsius(0.03125, 0), 0.03},
    {celsius(0.01, 0), 0.05},
    {celsius(0.01, -40), 0.07},
    {celsius(0.00390625, -40), 0.05},
    {celsius(0.00390625, 0), 0.02},
    {celsius(0.5, -40), 0.03},
    {celsius(0.25, -40), 0.03},
    {celsius(1, -40), 0.04},
    {fahrenheit(0.1, 0), 0.02},
}};
constexpr std::array<UsualEncoding, 7> kSignedLong{{
    {celsius(0.1, 0), 0.35},
    {celsius(0.0625, 0), 0.22},
    {celsius(0.01, 0), 0.10},
    {celsius(0.00390625, 0), 0.10},
    {celsius(0.03125, 0), 0.06},
    {celsius(0.5, 0), 0.05},
    {celsius(1, 0), 0.10},
}};

}  // namespace

std::span<const UsualEncoding> usual_encodings(int bit_length, bool is_signed) {
  if (bit_length <= kBitsPerByte)
    return is_signed ? std::span<const UsualEncoding>(kSignedByte) : std::span<const UsualEncoding>(kByte);
  return is_signed ? std::span<const UsualEncoding>(kSignedLong) : std::span<const UsualEncoding>(kLong);
}

std::string text_of(const Encoding& encoding) {
  constexpr int kShownDecimals = 6;
  Encoding shown = encoding;
  if (encoding.fahrenheit) {
    shown.scale = encoding.scale / kKelvinPerFahrenheit;
    shown.offset = encoding.offset / kKelvinPerFahrenheit + 32;
  }
  std::string text = "raw";
  if (shown.scale != 1) text += " * " + shortest(shown.scale, kShownDecimals);
  const std::string offset = shortest(std::abs(shown.offset), kShownDecimals);
  if (offset != "0") text += (shown.offset < 0 ? " - " : " + ") + offset;
  return text + (encoding.fahrenheit ? " °F" : " °C");
}

}  // namespace sumplog
