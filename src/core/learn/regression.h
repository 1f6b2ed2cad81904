#pragma once
#include <vector>

namespace sumplog {

/// Linear least squares with a constant, one regressor after the other: how much of the target each explains that those before
/// it did not.
/// src  Gram-Schmidt orthogonalisation
class Regression {
 public:
  /// in   target  at least one value
  explicit Regression(std::vector<double> target);
  /// Takes one regressor's part out of what is left.
  /// in   regressor  as long as the target
  /// out  its factor; 0 where it says nothing new
  double add(std::vector<double> regressor);
  /// Sum of squares that no regressor explains.
  [[nodiscard]] double left() const;

 private:
  std::vector<double> left_;
  std::vector<std::vector<double>> taken_;  ///< of length 1, at right angles to each other
};

}  // namespace sumplog
