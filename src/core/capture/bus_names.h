#pragma once
#include <map>
#include <string>
#include <string_view>

#include "core/item/frame.h"

namespace sumplog {

/// Gives each interface name of a foreign capture its own bus name, so that two buses never mix: blanks and
/// control characters become '_', a name of more than 15 characters is cut, and when the result is taken by
/// another name, its end becomes "~2", "~3", …
class BusNames {
 public:
  /// in  any text; empty: "can", as a name is needed
  [[nodiscard]] BusName bus_of(std::string_view name);

 private:
  std::map<std::string, BusName, std::less<>> known_;
};

}  // namespace sumplog
