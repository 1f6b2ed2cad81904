#pragma once
#include <string>

#include "core/item/item.h"

namespace sumplog {

/// What the scan of a "scan" entry is for: "before", "after" or "during"; the last where the entry does not say it.
[[nodiscard]] std::string scan_of(const Entry& entry);

}  // namespace sumplog
