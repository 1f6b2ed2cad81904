#pragma once
#include "core/decoder/decoder.h"
#include "core/decoder/toml_table.h"

namespace sumplog {

/// Holds a signal against its own check vectors: each must decode to what it says (to a hundredth of a step),
/// and together they must cover both ends of the valid range, a value between the low end and zero where
/// there is one, and each no-value pattern.
void hold_against_checks(const Signal& signal, FirstMistake& mistakes);

}  // namespace sumplog
