#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/record/job_record.h"

namespace sumplog {

/// Something is left to do, by what the record says so far.
struct OpenDuty {
  std::string item;  ///< its name, which stays the same
  std::string text;
  std::string about;  ///< what may change while it is open: codes, litres, a check; empty: always the same
  std::optional<double> litres;  ///< what must be booked, at the reference temperature of the sums
};

/// What follows from the record: codes that were there before and codes that are new, scans and road tests that were not done,
/// the level check, what the kind of transmission asks for, waste, the safety list. What belongs to work on the fluid is
/// left out while there was none.
/// src  common practice, no source
[[nodiscard]] std::vector<OpenDuty> open_duties(const JobRecord& record);

/// What a person entered about an item: `open_item_done` or `open_item_signed_over`.
struct Settlement {
  OpenItemState state = OpenItemState::done;
  std::string by;
  std::string text;
  std::optional<double> litres;
  std::string about;  ///< of the duty then: when it is about something else later, it is open again
};

/// in   typed  items that a person added
[[nodiscard]] std::vector<OpenItem> open_items(const std::vector<OpenDuty>& duties,
                                               const std::vector<OpenItem>& typed,
                                               const std::map<std::string, Settlement>& settled);

}  // namespace sumplog
