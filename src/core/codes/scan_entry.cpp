#include "core/codes/scan_entry.h"

#include "core/item/entry_names.h"
#include "core/job/entry_fields.h"

namespace sumplog {

std::string scan_of(const Entry& entry) {
  const auto scan = text_field(entry, "scan");
  const bool known = scan && (*scan == kScanBefore || *scan == kScanAfter);
  return known ? *scan : std::string(kScanDuring);
}

}  // namespace sumplog
