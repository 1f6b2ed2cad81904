#pragma once
#include <string>

#include "core/isotp/addressing.h"

namespace sumplog {

/// Why no request may ever go to this address, or why nothing can come back from it; empty when it is in
/// order. The guard asks again before anything is sent: this only says it early, with the line in the file.
/// src  ISO 15765-4 (7E0–7E7 answered on +8; 18DAxxF1 answered on 18DAF1xx), ISO 15765-2 (mixed addressing
/// 18CExxF1),
///      the guard's own rule for identifiers named by a decoder (600–7FF)
[[nodiscard]] std::string address_mistake(const UnitAddress& address);

/// True for identifiers that carry diagnostics by standard, so that a broadcast cannot have them.
[[nodiscard]] bool is_diagnostic_by_standard(CanId id);

}  // namespace sumplog
