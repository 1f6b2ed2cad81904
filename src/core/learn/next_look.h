#pragma once
#include <string>
#include <vector>

#include "core/learn/evidence.h"
#include "core/learn/fluid_search.h"

namespace sumplog {

/// An observation that a person could make next, and how much it would tell.
struct NextLook {
  std::string what;      ///< "read the probe again at about 45 °C"
  double gain_bits = 0;  ///< by which the uncertainty over the signals is expected to fall
};

/// What separates the leading signals most, the best first; empty when one is sure already or nothing was found.
/// src  expected fall of Shannon's entropy, each signal in turn taken for the true one
[[nodiscard]] std::vector<NextLook> next_looks(const SearchResult& result, const Evidence& evidence);

}  // namespace sumplog
