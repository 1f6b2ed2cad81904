#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/codes/code_answer.h"
#include "core/isotp/message.h"

namespace sumplog {

/// What one unit told in one scan.
struct UnitCodes {
  bool told = false;                                      ///< it has answered 03 or 19 02
  bool answered = false;                                  ///< anything, a refusal too
  std::map<std::string, std::vector<std::string>> codes;  ///< status words by code
  std::optional<MonitorStatus> monitors;
  std::map<std::string, double> since_cleared;  ///< distance, time and warm-ups, by signal name
  std::string refused;                          ///< why it does not tell its codes
};

struct ScanResult {
  std::map<Endpoint, UnitCodes> units;  ///< by response endpoint: all that are known to be there
  bool complete = false;
};

}  // namespace sumplog
