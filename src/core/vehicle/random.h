#pragma once
#include <cstdint>

namespace sumplog {

/// Numbers that look random and are equal on every machine for equal seeds.
/// src  Steele, Lea, Flood: "Fast splittable pseudorandom number generators" (SplitMix64); constants of the
/// reference code
class Random {
 public:
  explicit constexpr Random(std::uint64_t seed) : state_(seed) {}
  constexpr std::uint64_t next() {
    state_ += kGamma;
    return mixed(state_);
  }
  /// A whole number 0…bound-1; bound > 0. The slight bias of the remainder does not matter for jitter.
  constexpr std::uint64_t below(std::uint64_t bound) { return next() % bound; }

  /// The same scatter without a state: a value for each `index`, however often and in whatever order it is
  /// asked.
  [[nodiscard]] static constexpr std::uint64_t at(std::uint64_t seed, std::uint64_t index) {
    return mixed(seed + (index + 1) * kGamma);
  }
  /// From -1 to 1 out of 53 random bits.
  [[nodiscard]] static constexpr double symmetric(std::uint64_t bits) {
    constexpr double kHalfRange = 4503599627370496.0;  // 2^52
    return static_cast<double>(bits >> 11U) / kHalfRange - 1.0;
  }

 private:
  static constexpr std::uint64_t kGamma = 0x9E3779B97F4A7C15ULL;
  static constexpr std::uint64_t mixed(std::uint64_t z) {
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31U);
  }
  std::uint64_t state_;
};

}  // namespace sumplog
