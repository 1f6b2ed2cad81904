#pragma once
#include "core/decoder/decoder.h"

namespace sumplog {

inline constexpr double kCoarseNoise_c = 0.07;  ///< sd of a coarse sensor about its edges; own research
inline constexpr double kFineNoise_c = 0.09;    ///< sd of a fine sensor; own research
inline constexpr double kFineStep_c = 0.15;     ///< below it the noise hides the step: no cells

/// A reading and the interval [low, high) of temperatures that it stands for.
struct SensorCell {
  double reading_c = 0;
  double step_c = 1;
  Rounding rounding = Rounding::unknown;

  /// From the reading to the middle of its cell, in steps.
  [[nodiscard]] double offset() const {
    switch (rounding) {
      case Rounding::round: return 0;
      case Rounding::floor: return 0.5;
      case Rounding::unknown: return 0.25;  // between the two
    }
    return 0.25;
  }
  [[nodiscard]] bool fine() const { return step_c < kFineStep_c; }
  [[nodiscard]] double middle_c() const { return reading_c + offset() * step_c; }
  [[nodiscard]] double low_c() const { return reading_c + (offset() - 0.5) * step_c; }
  [[nodiscard]] double high_c() const { return reading_c + (offset() + 0.5) * step_c; }
};

}  // namespace sumplog
