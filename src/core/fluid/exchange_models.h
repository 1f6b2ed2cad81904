#pragma once
#include <optional>

namespace sumplog {

/// Old and new fluid in a gearbox, followed by one assumption about how they mix. The dead volume never leaves and stays old.
/// src  old fluid left after V litres through a vessel of V0: well mixed exp(−V/V0), ideally displaced 1 − V/V0 and not below 0
///      (Levenspiel, Chemical Reaction Engineering, chapters 11 to 14, from memory). Any number of well-mixed tanks in a row
///      lies between the two.
class FluidContents {
 public:
  enum class Mixing { well_mixed, ideal_displacement };

  /// in   fill_l  above dead_l, which is 0 or more
  FluidContents(Mixing mixing, double fill_l, double dead_l);

  /// Fluid runs out; no more than there is. Well mixed it is a mixture, otherwise the old fluid goes first.
  void drain(double litres);
  /// New fluid goes in, up to the fill quantity.
  /// out  what is beyond it: not counted, nobody knows what it drove out
  double fill(double litres);
  /// As much goes in as comes out, at once.
  void exchange(double litres);

  /// Of all that is in, 0…1.
  [[nodiscard]] double share_new() const;
  /// How much more must go through, after filling up, until so much is new.
  /// in   share  0…1
  /// out  nothing: never, for the dead volume or for the mixing
  [[nodiscard]] std::optional<double> more_for(double share) const;

 private:
  Mixing mixing_;
  double fill_l_;
  double dead_l_;
  double contents_l_;  ///< of what can leave
  double old_l_;       ///< of it
};

/// Nobody can show that all of it is new: no share above this one is told.
inline constexpr double kMostNew = 0.999;

}  // namespace sumplog
