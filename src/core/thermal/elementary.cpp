#include "core/thermal/elementary.h"

#include <array>
#include <bit>
#include <cassert>
#include <cstddef>
#include <cstdint>
#include <limits>

namespace sumplog {
namespace {

// IEEE 754 double: 52 bits of fraction, exponent biased by 1023.
constexpr int kFractionBits = 52;
constexpr std::int64_t kBias = 1023;

// ln 2 in two parts; the first has 32 bits, so that its product with a small integer is exact.
constexpr double kLn2High = 6.93147180369123816490e-01;
constexpr double kLn2Low = 1.90821492927058770002e-10;
constexpr double kOneByLn2 = 1.44269504088896340736;
constexpr double kSqrtHalf = 0.70710678118654752440;
constexpr double kOneBySqrtTwoPi = 0.39894228040143267794;

constexpr double kSmallestExponent = -708;  // e^-708 is the last one that is not subnormal
constexpr double kLargestExponent = 709;    // e^710 is beyond the range

// 1/n!, from 2 on. |r| <= ln 2 / 2: the first term left out is below 4e-18.
constexpr std::array<double, 12> kOneByFactorial{
    1.0 / 2,       1.0 / 6,        1.0 / 24,        1.0 / 120,        1.0 / 720,         1.0 / 5040,
    1.0 / 40320.0, 1.0 / 362880.0, 1.0 / 3628800.0, 1.0 / 39916800.0, 1.0 / 479001600.0, 1.0 / 6227020800.0};

// 1/(2n+1), from 1 on. s <= 3 − 2√2: the first term left out is below 1e-17 of the sum.
constexpr std::array<double, 10> kOneByOdd{1.0 / 3,  1.0 / 5,  1.0 / 7,  1.0 / 9,  1.0 / 11,
                                           1.0 / 13, 1.0 / 15, 1.0 / 17, 1.0 / 19, 1.0 / 21};

// erfc(z) exp(z²) / t as a Chebyshev series in 2t − 1, where t = 2 / (2 + z) and z >= 0.
constexpr std::array<double, 25> kScaledErfc{
    1.15406747723293934271e+00,  3.55436921270498473735e-01,  6.50951588287865257065e-02,
    3.67114239583663914263e-03,  -1.11284474335263247266e-03, -1.60758299153780789218e-04,
    3.27803157417313727477e-05,  5.44244164550501624371e-06,  -1.51546655531714824746e-06,
    -1.42976081811698648843e-07, 8.23460882741949311645e-08,  -1.29628468523065629367e-09,
    -4.15472163101519868590e-09, 6.34705827836281124091e-10,  1.43208227122562246148e-10,
    -6.16039010520458509727e-11, 2.06121385547216978196e-12,  3.57149314884770424925e-12,
    -8.58642284325179604971e-13, -6.14560021379063011635e-14, 7.41872574859661665646e-14,
    -1.28950427550323252399e-14, -2.35872638571063216370e-15, 1.57293493816859117210e-15,
    -2.27829662395464647363e-16};

double power_of_two(std::int64_t n) {
  return std::bit_cast<double>(static_cast<std::uint64_t>(n + kBias) << kFractionBits);
}

/// erfc(z) exp(z²), z >= 0
double scaled_erfc(double z) {
  const double t = 2 / (2 + z);
  const double x = 2 * (2 * t - 1);
  double b1 = 0;
  double b2 = 0;
  for (std::size_t i = kScaledErfc.size() - 1; i > 0; --i) {
    const double b0 = x * b1 - b2 + kScaledErfc[i];
    b2 = b1;
    b1 = b0;
  }
  return t * (x / 2 * b1 - b2 + kScaledErfc[0] / 2);
}

}  // namespace

double exp_of(double x) {
  if (x < kSmallestExponent) return 0;
  if (x > kLargestExponent) return std::numeric_limits<double>::infinity();
  const double scaled = x * kOneByLn2;
  const auto n = static_cast<std::int64_t>(scaled < 0 ? scaled - 0.5 : scaled + 0.5);
  const auto k = static_cast<double>(n);
  const double r = (x - k * kLn2High) - k * kLn2Low;
  double sum = kOneByFactorial.back();
  for (std::size_t i = kOneByFactorial.size() - 1; i > 0; --i) sum = kOneByFactorial[i - 1] + r * sum;
  return (1 + (r + r * r * sum)) * power_of_two(n);
}

double log_of(double x) {
  assert(x > 0 && x <= std::numeric_limits<double>::max());
  // Subnormal numbers are lifted first: their fraction has no leading one.
  std::int64_t n = 0;
  if (x < std::numeric_limits<double>::min()) {
    x *= power_of_two(54);
    n = -54;
  }
  const auto bits = std::bit_cast<std::uint64_t>(x);
  n += static_cast<std::int64_t>(bits >> kFractionBits) - kBias;
  constexpr std::uint64_t kFraction = (std::uint64_t{1} << kFractionBits) - 1;
  double m = std::bit_cast<double>((bits & kFraction) | (static_cast<std::uint64_t>(kBias) << kFractionBits));
  if (m > 2 * kSqrtHalf) {
    m /= 2;
    ++n;
  }
  const double f = m - 1;
  const double s = f / (2 + f);
  const double s2 = s * s;
  double sum = kOneByOdd.back();
  for (std::size_t i = kOneByOdd.size() - 1; i > 0; --i) sum = kOneByOdd[i - 1] + s2 * sum;
  // ln m = f − (f²/2 − s (f²/2 + 2 s² sum)): f carries the leading digits and is exact.
  const double half = f * f / 2;
  const double rest = half - s * (half + 2 * s2 * sum);
  const auto k = static_cast<double>(n);
  return k * kLn2High - ((rest - k * kLn2Low) - f);
}

StandardNormal standard_normal(double z) {
  const double e = exp_of(-z * z / 2);
  const double size = z < 0 ? -z : z;
  const double tail = e * scaled_erfc(size * kSqrtHalf) / 2;
  return {kOneBySqrtTwoPi * e, z < 0 ? tail : 1 - tail};
}

}  // namespace sumplog
