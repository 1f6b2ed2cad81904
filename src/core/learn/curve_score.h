#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "core/item/time.h"
#include "core/learn/encoding.h"
#include "core/learn/evidence.h"

namespace sumplog {

/// What speaks for or against a curve being the fluid temperature.
enum class Ground : std::uint8_t {
  smoothness,  ///< jumps, and unrest below the step
  level,       ///< where a fluid is in service
  pace,        ///< how fast it rises at most
  course,      ///< up and down, against a warm-up that goes one way; counters
  start,       ///< agreement with a cold car
  lag,         ///< how far behind the coolant it rises
  load,        ///< whether it rises faster while the car drives
  copy,        ///< the same as coolant, oil or air
  seen,        ///< readings by hand
};
inline constexpr std::size_t kGrounds = 9;
[[nodiscard]] std::string_view text_of(Ground ground);

/// A field's raw values in the course of a capture.
struct RawCurve {
  std::vector<TimePoint> at;
  std::vector<std::int32_t> raw;
};

/// Natural logarithms of likelihood ratios: this curve as the fluid temperature against something else. Their sum is the
/// whole.
struct CurveScore {
  std::array<double, kGrounds> nats{};
  std::string copies;  ///< "coolant temperature"; empty: nothing that is known
  [[nodiscard]] double total() const;
  /// The part that any temperature of the car would have as well: smoothness, level, course, start and load.
  [[nodiscard]] double as_temperature() const;
  double& operator[](Ground ground) { return nats[static_cast<std::size_t>(ground)]; }
  double operator[](Ground ground) const { return nats[static_cast<std::size_t>(ground)]; }
};

/// Scores one curve under one encoding.
/// in   curve  at least kFewestValues values
///      begin  of the capture
/// out  nothing: it cannot be the fluid temperature (constant, jumping, outside of what a fluid can have)
/// src  Bayes' rule with one likelihood ratio for each ground, taken as independent; the densities are own choices, held by
///      tests/learn on made-up cars
[[nodiscard]] std::optional<CurveScore> score_curve(const RawCurve& curve, const Encoding& encoding,
                                                    const Evidence& evidence, TimePoint begin);

inline constexpr std::size_t kFewestValues = 6;  // own choice: fewer say nothing of a course

/// Counts neighbours that are further apart than a fluid can go. More of them than one in fifty, and at least two, are too many.
class JumpCount {
 public:
  /// in   step_c  of the encoding: one step more or less is no jump
  ///      values  of the curve
  JumpCount(double step_c, std::size_t values);
  /// in   raw_steps, gap_s  from one value to the next
  [[nodiscard]] bool too_many(std::int32_t raw_steps, double gap_s);
  [[nodiscard]] std::size_t count() const { return count_; }

 private:
  double step_c_;
  std::size_t most_;
  std::size_t count_ = 0;
};

}  // namespace sumplog
