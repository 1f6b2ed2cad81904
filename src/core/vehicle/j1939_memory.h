#pragma once
#include <cstdint>
#include <vector>

#include "core/vehicle/fault_plan.h"

namespace sumplog {

inline constexpr std::uint32_t kActiveCodes = 65226;            ///< DM1, SAE J1939-73
inline constexpr std::uint32_t kPreviouslyActiveCodes = 65227;  ///< DM2, SAE J1939-73

/// The fault codes of the nodes of SAE J1939 as they stand. Only events of the scenario change them.
class J1939Memory {
 public:
  explicit J1939Memory(const std::vector<J1939CodePlan>& codes);

  /// Active, or from active to previously active.
  void apply(const J1939CodeChange& change);
  /// All of them are gone.
  void apply(const CodesCleared& change);

  /// The data of DM1 or DM2 of one node:
  ///   0 | 1 | lamps: bits 1-2 protect, 3-4 amber, 5-6 red, 7-8 malfunction; 00 off, 01 on
  ///   1 | 1 | FF: how they flash is not told
  ///   2 | 4 | for each code: SPN bits 7…0, 15…8, 18…16 and FMI, conversion method and occurrences
  /// out  8 bytes at least, filled with FF; without a code SPN 0 and FMI 0 stand in place of one
  /// src  SAE J1939-73, DM1 and DM2
  [[nodiscard]] std::vector<std::uint8_t> message(std::uint32_t pgn, std::uint8_t source) const;

 private:
  enum class State : std::uint8_t { gone, active, previously_active };
  struct Code {
    J1939CodePlan plan;
    State state = State::gone;
  };
  std::vector<Code> codes_;
};

}  // namespace sumplog
